"""When a quantity will leave its band if nothing changes, in words."""

from datetime import datetime

from generator.reckon.water.findings import Forecast
from generator.render.numbers import Display, say_day
from generator.render.words import Words


def forecast_words(display: Display, words: Words, forecast: Forecast) -> tuple[str, str]:
    """The likely day, and the days between which it leaves ("" if it stays, or only may leave)."""

    def day(at: datetime) -> str:
        return say_day(display, words, at.astimezone(display.zone).date()).text

    if forecast.leaves is None or forecast.earliest is None:
        return words("forecast.stays", days=f"{forecast.horizon_days:.0f}"), ""
    side, earliest = words(f"forecast.{forecast.leaves}"), day(forecast.earliest)
    if forecast.likely is None:
        return words("forecast.perhaps", side=side, earliest=earliest), ""
    leaves = words("forecast.leaves", side=side, likely=day(forecast.likely))
    if forecast.latest is None:
        return leaves, words("forecast.from", earliest=earliest)
    return leaves, words("forecast.between", earliest=earliest, latest=day(forecast.latest))
