"""A forecast never says that something happens between a day and the same day."""

from datetime import UTC, datetime, timedelta
from zoneinfo import ZoneInfo

import pytest

from generator.reckon.water.findings import Forecast
from generator.render.base.numbers import Display, Say, forecast_words
from generator.render.base.words import words_of

_DAY = datetime(2026, 11, 26, 6, tzinfo=UTC)


@pytest.mark.parametrize(
    ("hours", "said"),
    [
        ((0, 4, 9), "likely on that very day"),
        ((0, 30, 60), "likely 2026-11-26 to 2026-11-28"),
        ((0, 4, None), "likely then or later"),
        ((0, 30, None), "likely not before 2026-11-26"),
    ],
)
def test_the_days_between_are_two_days(hours: tuple[int, int, int | None], said: str) -> None:
    earliest, likely, latest = (None if each is None else _DAY + timedelta(hours=each) for each in hours)
    forecast = Forecast("alkalinity", "low", earliest, likely, latest, 30.0, ())
    assert forecast_words(Say(Display(ZoneInfo("UTC"), {}), words_of("en")), forecast)[1] == said
