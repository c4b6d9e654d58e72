"""Systems that are dosed in different ways, and what is found about their water."""

from datetime import timedelta

from msgspec.structs import replace

from generator.reckon.dosing.plan import Plan
from generator.reckon.finding import Answer, CannotTell, Finding
from generator.reckon.water.findings import Calcification, Forecast, Latest, Noise, Uptake, WaterFindings
from generator.records.log import Effluent, PumpRate, Reading, SystemLog, TopOff
from generator.records.system import Solution, System
from generator.units.kinds import MEQ_PER_DKH
from generator.units.quantity import Estimate, parse_quantity
from tests.reckon.water.journals import here, levels, moment, system

AS_OF = moment(60.0)
VOLUME = 400.0


def solution(compound: str, strength: float, stock: str | None = None) -> Solution:
    return Solution(
        source=here(),
        compound=compound,
        strength=parse_quantity(f"{strength} g/L", "strength"),
        stock=parse_quantity(stock, "volume") if stock else None,
    )


SODA, CHLORIDE = solution("Na2CO3", 60.0, "5 L"), solution("CaCl2.2H2O", 80.0, "5 L")
BICARB, LIME = solution("NaHCO3", 80.0), solution("Ca(OH)2", 2.0)
TWO_PART = {"soda": SODA, "chloride": CHLORIDE}


def dosed(solutions: dict[str, Solution], evaporation: str | None = None) -> System:
    """The 400 L of `journals`, dosed with these solutions."""
    return replace(
        system(),
        solutions=solutions,
        evaporation=parse_quantity(evaporation, "rate") if evaporation else None,
        target=levels(alkalinity="8.25 dKH", calcium="430 mg/L"),
    )


def log(
    pumps: dict[str, str] | None = None,
    top_off: tuple[str, str | None] | None = None,
    effluent: tuple[str, str] | None = None,
) -> SystemLog:
    return SystemLog(
        system="lagoon",
        pumps=tuple(
            PumpRate(source=here(), at=moment(0.0), solution=id, rate=parse_quantity(rate, "rate"))
            for id, rate in (pumps or {}).items()
        ),
        top_offs=(TopOff(source=here(), at=moment(0.0), rate=parse_quantity(top_off[0], "rate"), solution=top_off[1]),)
        if top_off
        else (),
        effluents=(
            Effluent(
                source=here(),
                at=moment(0.0),
                flow=parse_quantity(effluent[0], "rate"),
                alkalinity=parse_quantity(effluent[1], "alkalinity"),
                calcium=None,
                magnesium=None,
            ),
        )
        if effluent
        else (),
    )


def to_test(plan: Plan) -> float:
    """Days until a plan asks for the next test."""
    return (plan.next_test.at - plan.as_of).total_seconds() / 86400.0


def alkalinity(days_ago: float, dkh: float) -> Reading:
    """A reading of alkalinity."""
    value = parse_quantity(f"{dkh} dKH", "alkalinity")
    return Reading(source=here(), at=AS_OF - timedelta(days=days_ago), kind="alkalinity", value=value, kit="drops")


def about(value: float, half_width: float, unit: str, method: str = "uptake") -> Finding:
    return Finding(Estimate(value, value - half_width, value + half_width, unit), method, (here(7),))


def found(
    uptake_dkh: float = 0.9,
    half_width_dkh: float = 0.05,
    level_dkh: float = 8.25,
    calcium: float = 430.0,
    spread_a_day: float = 0.05,
    doubtful: bool = False,
    unexplained: Answer | None = None,
) -> WaterFindings:
    """Findings of the 400 L with an uptake, its levels, and forecasts that widen by `spread_a_day` dKH a day (90 %)."""
    amount, half = (value * MEQ_PER_DKH * VOLUME for value in (uptake_dkh, half_width_dkh))
    grams = 0.050043 * amount
    nothing = CannotTell("no-readings", "read-twice")
    noise = Noise(0.05, "declared")

    def uptake(kind: str, per_day: Answer, whole: Answer) -> Uptake:
        return Uptake(kind, per_day, whole, (), (), noise, noise, 20, AS_OF)

    return WaterFindings(
        system="lagoon",
        as_of=AS_OF,
        latest={
            "alkalinity": _latest("alkalinity", f"{level_dkh:.2f} dKH", doubtful),
            "calcium": _latest("calcium", f"{calcium:.0f} mg/L", False),
        },
        ledger=(),
        uptake={
            "alkalinity": uptake(
                "alkalinity", about(amount / VOLUME, half / VOLUME, "meq/L/day"), about(amount, half, "meq/day")
            ),
            "calcium": uptake("calcium", nothing, nothing),
            "magnesium": uptake("magnesium", nothing, nothing),
        },
        calcification=Calcification(
            about(grams, 0.050043 * half, "g/day", "calcification"),
            about(grams, 0.050043 * half, "g/day", "calcification"),
            unexplained or nothing,
        ),
        forecasts={
            "alkalinity": _forecast("alkalinity", level_dkh * MEQ_PER_DKH, 0.1, spread_a_day * MEQ_PER_DKH, "meq/L"),
            "calcium": _forecast("calcium", calcium, 4.0, 1.0, "mg/L"),
            "magnesium": nothing,
        },
        trends={},
        readings=(),
    )


def _latest(kind: str, text: str, doubtful: bool) -> Latest:
    value = parse_quantity(text, kind)
    reading = Reading(source=here(), at=AS_OF, kind=kind, value=value, kit="drops")
    return Latest(reading, value.canonical(), None, None, None, "within", 0.0, doubtful)


def _forecast(kind: str, level: float, start: float, a_day: float, unit: str) -> Forecast:
    days = [half / 2.0 for half in range(61)]
    track = tuple(
        (AS_OF + timedelta(days=day), Estimate(level, level - start - a_day * day, level + start + a_day * day, unit))
        for day in days
    )
    return Forecast(kind, None, None, None, None, 30.0, track)
