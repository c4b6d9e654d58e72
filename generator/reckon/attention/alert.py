"""One alert for the day's page: its name, its weight, and what a dismissal hides."""

from collections.abc import Mapping
from datetime import date, datetime
from math import floor, log10
from typing import TYPE_CHECKING, Literal, NamedTuple, get_args

from msgspec import Struct, field

from generator.records.log import AlertKind, Dismissal
from generator.records.source import Source
from generator.units.quantity import Estimate, Quantity

if TYPE_CHECKING:
    from generator.reckon.water.findings import WaterFindings

# An alert that grew to this many times its dismissed size is a new one.
GROWN = 1.5

# Sizes in an alert's name go up in steps of about a quarter, so that it does not change with every reading.
# Source: preferred numbers, series R10, rounded; ISO 3:1973 (from memory).
STEPS = (1.0, 1.25, 1.6, 2.0, 2.5, 3.2, 4.0, 5.0, 6.3, 8.0, 10.0)


Urgency = Literal["act", "check", "know"]
# The first comes first.
URGENCIES = get_args(Urgency)


class Traits(NamedTuple):
    """What all alerts of one kind share: what is at stake, what they ask of the keeper, the method behind them."""

    stake: float
    urgency: Urgency
    method: str


# The highest stake comes first. Alkalinity moves fastest and harms soonest (common practice, no source).
TRAITS: dict[AlertKind, Traits] = {
    "out-of-band": Traits(8.0, "act", "ledger"),
    "leaving-band": Traits(7.0, "act", "forecast"),
    "missed-dose": Traits(6.5, "act", "habit"),
    "predicted": Traits(6.5, "act", "expected-uptake"),
    "pump-to-mend": Traits(7.5, "act", "dosing"),
    "pump-gives-less": Traits(6.2, "check", "rivals"),
    "uptake-changed": Traits(6.0, "check", "uptake"),
    "two-explanations": Traits(5.5, "check", "rivals"),
    "unexplained-shift": Traits(5.0, "check", "unexplained-shift"),
    "temperature-swing": Traits(5.0, "check", "temperature-swing"),
    "growth-fell": Traits(3.3, "check", "growth-decline"),
    "ailing": Traits(4.8, "act", "ailing"),
    "light-step-up": Traits(4.5, "act", "light-steps"),
    "aragonite-saturation": Traits(4.0, "check", "aragonite-saturation"),
    "unexplained-uptake": Traits(4.0, "check", "calcification"),
    "salinity-in-doubt": Traits(4.0, "check", "salt-balance"),
    "neighbours-touch": Traits(4.5, "check", "meeting"),
    "too-close": Traits(4.6, "act", "meeting"),
    "state-check": Traits(3.2, "check", "accounts"),
    "doubtful-reading": Traits(3.0, "check", "rivals"),
    "phosphate-short": Traits(3.0, "check", "nutrient-ratio"),
    "outgrows-place": Traits(2.5, "know", "meeting"),
    "planned": Traits(2.4, "know", "journey"),
    "owed": Traits(2.2, "know", "accounts"),
    "salt-out-of-balance": Traits(2.0, "know", "composition"),
    "trend": Traits(2.0, "know", "trend"),
    "line-at-risk": Traits(1.5, "know", "lines-at-risk"),
    "no-reading": Traits(1.0, "check", "next-test"),
}
# What is planned for the next days weighs so much more.
SOON_WEIGHT = 3.0
# Of a band that may not have been left at all.
UNSURE_STAKE = 5.2
WEIGHTS = {"alkalinity": 0.9, "salinity": 0.8, "temperature": 0.7, "calcium": 0.5}


class Named(NamedTuple):
    """Something that has a name of its own on pages: a partner, the day of a trade, an edge of a place."""

    kind: Literal["partner", "trade", "edge"]
    id: str


# A moment, a day, a quantity with its unit, a count, something with a name, a plain text; None: nobody can tell.
Fact = datetime | date | Quantity | int | Named | str | None


class Alert(Struct, frozen=True, kw_only=True):
    """One thing that needs the keeper.

    It is about a `quantity` of a system's water, or about its `subject` (a coral, two of them, a line, a trade, a
    plan). `mark` says which side, which reading or since when. `size` is the number shown, in the unit it carries;
    `magnitude` is how large the alert is, in any unit, for telling whether it has grown. `began` is when it began,
    where the mark does not say so. `facts` fill its words. `weight` is added to the stake of its kind.
    """

    kind: AlertKind
    system: str = ""
    quantity: str = ""
    subject: tuple[str, ...] = ()
    mark: str
    size: Estimate | None = None
    facts: Mapping[str, Fact] = field(default_factory=dict)
    inputs: tuple[Source, ...]
    magnitude: float = 0.0
    began: datetime | None = None
    weight: float = 0.0

    @property
    def id(self) -> str:
        """Its name, ``kind/system/about/mark``, with ``~`` and a step of its magnitude: stays while it is the same."""
        about = self.quantity or "+".join(self.subject)
        return f"{self.kind}/{self.system}/{about}/{self.mark}{magnitude_step(self.magnitude)}"

    @property
    def unsure(self) -> bool:
        """Whether it may be nothing: a band left by less than the test may err."""
        return self.kind == "out-of-band" and self.size is not None and not self.size.is_clear

    @property
    def urgency(self) -> Urgency:
        """What it asks of the keeper; what is planned for the next days asks to act."""
        if self.kind == "planned" and self.weight >= SOON_WEIGHT:
            return "act"
        return "check" if self.unsure else TRAITS[self.kind].urgency

    @property
    def stake(self) -> float:
        """What is at stake: the highest comes first. What may be nothing comes after all that calls for action."""
        stake = UNSURE_STAKE if self.unsure else TRAITS[self.kind].stake
        return stake + WEIGHTS.get(self.quantity, 0.0) + self.weight

    def is_hidden_by(self, dismissal: Dismissal) -> bool:
        """Whether a dismissal still hides it.

        It does while kind, quantity, side and occasion are the same and the alert is at most half as large again
        as the dismissed size. A dismissal without a size hides any size. One from before the alert began does not
        count.
        """
        if self.began is not None and dismissal.at < self.began:
            return False
        name, size = _parts(dismissal.alert)
        return name == _parts(self.id)[0] and (size is None or self.magnitude <= GROWN * size)


def alert(
    kind: AlertKind,
    water: "WaterFindings",
    quantity: str,
    mark: str,
    size: Estimate | None,
    inputs: tuple[Source, ...],
    magnitude: float = 0.0,
    began: datetime | None = None,
    **facts: Fact,
) -> Alert:
    """An alert about a quantity of a system's water."""
    return Alert(
        kind=kind,
        system=water.system,
        quantity=quantity,
        mark=mark,
        size=size,
        facts=facts,
        inputs=inputs,
        magnitude=magnitude,
        began=began,
    )


def magnitude_step(magnitude: float) -> str:
    """The first step that is at least as large as a size, to end a name with; "" without a size."""
    if magnitude <= 0.0:
        return ""
    exponent = floor(log10(magnitude))
    step = next((step for step in STEPS if step * 10.0**exponent >= magnitude), STEPS[-1])
    return f"~{step * 10.0**exponent:g}"


def _parts(id: str) -> tuple[str, float | None]:
    name, mark, size = id.rpartition("~")
    try:
        return (name, float(size)) if mark else (id, None)
    except ValueError:
        return id, None
