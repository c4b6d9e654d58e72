"""The shapes of what is found about a system's water. All values are in the quantity's canonical unit."""

from datetime import datetime
from typing import Literal

from msgspec import Struct, field

from generator.reckon.finding import Answer, CannotTell
from generator.reckon.water.deliveries import Habit
from generator.reckon.water.health import WaterHealth
from generator.records.log import Reading
from generator.records.source import Source
from generator.units.quantity import Canonical, Estimate

Cause = Literal["dose", "pump", "top-off", "reactor", "water-change", "uptake"]


class LedgerLine(Struct, frozen=True):
    """One payment into the water: `change` of the concentration in all, over [at, until] (equal for a dose).

    `measured` marks what a pump gave after it was measured what it really gives.
    """

    at: datetime
    until: datetime
    kind: str
    change: float
    unit: str
    cause: Cause
    source: Source
    solution: str = ""
    measured: bool = False


class Replayed(Struct, frozen=True):
    """One reading (canonical unit) and what was predicted of it `days` ahead, the kit's own error included.

    `score` is how far off it was, in standard errors of a normal distribution; within 1.645 it is inside the interval.
    """

    reading: Reading
    value: float
    days: float
    predicted: Estimate
    score: float

    @property
    def inside(self) -> bool:
        """Whether it fell in the 90 % interval."""
        return self.predicted.low <= self.value <= self.predicted.high


class DoubtfulReading(Struct, frozen=True):
    """A reading the others cannot explain: what they led to expect, and by how many standard errors it strays.

    `odds` is the chance that it is wrong.
    """

    reading: Reading
    value: float
    expected: Estimate
    surprise: float
    odds: float = 1.0


StoryKind = Literal["wrong-reading", "shift", "more", "less", "stop", "worn-pump"]


class Story(Struct, frozen=True):
    """One explanation of what was read lately, beside others: what happened between two moments, and its odds.

    `size` is by how much the reading strays, the level shifted, or what is taken up a day changed; of a worn pump the
    share (%) that it lacks of what is set, `solution` is what it gives; both moments are the first reading's.
    """

    kind: StoryKind
    after: datetime
    before: datetime
    odds: float
    size: Estimate
    inputs: tuple[Source, ...] = ()
    solution: str = ""


class TrackPoint(Struct, frozen=True):
    """The water at one moment, as all readings together tell it: level and change per day, 90 % intervals."""

    at: datetime
    level: Estimate
    per_day: Estimate


class Noise(Struct, frozen=True):
    """A standard deviation the estimator used, and whether the keeper declared it or the readings taught it."""

    value: float
    known: Literal["declared", "learned", "assumed"]


class KitOffset(Struct, frozen=True):
    """How much more a kit reads than another on the same water."""

    kit: str
    than: str
    size: Estimate


class Uptake(Struct, frozen=True):
    """What the coral takes up of one quantity.

    `per_day` is in concentration a day (positive: leaves the water), `amount` in the system's whole
    water a day (mmol, meq or mg as the canonical unit says, without the per-litre). `stories` compete to
    explain what was read lately, the likeliest first (none where what happened is as good as sure); `parted_by` is when
    a test could tell them apart. `kits` are those beside the first, and `off_by` is
    how far all levels of the first may be off, which no reading with it can tell.
    """

    kind: str
    per_day: Answer
    amount: Answer
    track: tuple[TrackPoint, ...]
    doubtful: tuple[DoubtfulReading, ...]
    kit_error: Noise
    drift: Noise
    readings: int
    last_reading: datetime | None
    stories: tuple[Story, ...] = ()
    parted_by: datetime | None = None
    kits: tuple[KitOffset, ...] = ()
    off_by: Estimate | None = None


class UnexplainedShift(Struct, frozen=True):
    """Alkalinity that came (positive) or went between two readings without a line in the log; `odds` that it did."""

    after: datetime
    before: datetime
    size: Estimate
    surprise: float
    inputs: tuple[Source, ...]
    odds: float = 1.0


class WornPump(Struct, frozen=True):
    """What a pump lacks of what it is set to, as a share, by the gap between alkalinity and calcium; the odds of it."""

    solution: str
    kind: str
    odds: float
    lacks: Estimate
    inputs: tuple[Source, ...]


class Calcification(Struct, frozen=True):
    """CaCO3 laid down, from alkalinity and calcium together.

    `grams_per_day` uses both; `from_alkalinity_alone` is the same model without the calcium readings (None: not
    asked for).
    `unexplained` is the alkalinity per day that calcification does not account for (meq/L/day). `pumps` are those
    whose wear the readings can tell.
    """

    grams_per_day: Answer
    from_alkalinity_alone: Answer | None
    unexplained: Answer
    shifts: tuple[UnexplainedShift, ...] = ()
    pumps: tuple[WornPump, ...] = ()


class Forecast(Struct, frozen=True):
    """Where a quantity goes if nothing is changed.

    `leaves` names the end of the band it will pass; `earliest`, `likely` and `latest` are the moments
    at which 5, 50 and 95 of 100 such futures have passed it (None: not within the horizon). `far` are the ends of the
    level's interval with odds of 39 in 40 at each moment of `track`, where they were asked of the stories.
    """

    kind: str
    leaves: Literal["low", "high"] | None
    earliest: datetime | None
    likely: datetime | None
    latest: datetime | None
    horizon_days: float
    track: tuple[tuple[datetime, Estimate], ...]
    far: tuple[tuple[float, float], ...] = ()


class Trend(Struct, frozen=True):
    """Change per day of a quantity that is only read, over the days stated."""

    kind: str
    per_day: Answer
    days: float
    readings: int


AgainstBand = Literal["low", "within", "high", "no-band"]


class Latest(Struct, frozen=True):
    """The last reading of a quantity against its band (canonical unit; None: no such end)."""

    reading: Reading
    value: float
    low: float | None
    high: float | None
    target: float | None
    standing: AgainstBand
    age_days: float
    doubtful: bool


class PlannedReading(Struct, frozen=True):
    """A reading to make: the odds that it (with those before it in the plan) tells the change from none.

    `half_width` is half the 90 % interval the demand will then have, in the canonical unit a day.
    """

    at: datetime
    odds: float
    half_width: float
    why: Literal["first", "settles", "confirms"]


class ReadingPlan(Struct, frozen=True):
    """Readings after a change of `size` (canonical unit a day): when they begin to mean something.

    `alone` gives, for each whole day after the change, the odds that a single reading tells it.
    `what` changed: an event of the log, of `coral` if it was one, or a standing ``dose``; `inputs` are its lines.
    `timed` is false where nobody wrote the hour of the change: then only the days of the readings count.
    """

    kind: str
    since: datetime
    size: float
    readings: tuple[PlannedReading, ...]
    alone: tuple[tuple[datetime, float], ...]
    what: str = ""
    coral: str | None = None
    inputs: tuple[Source, ...] = ()
    timed: bool = True


Why = Literal[
    "parts-stories",
    "tells-a-change",
    "could-leave-band",
    "outside-band",
    "doubtful-reading",
    "usual-interval",
    "no-reading",
]


class NextTest(Struct, frozen=True):
    """The next reading worth making of a quantity, and why; `timed` where the hour matters, not just the day.

    `days` is how often it is due, where that is why.
    """

    kind: str
    at: datetime
    why: Why
    odds: float | None = None
    timed: bool = False
    days: float = 0.0


class WaterFindings(Struct, frozen=True):
    """All that is found about one system's water at a moment. Mappings are by kind of quantity.

    `readings` pairs every reading with its value in the canonical unit. `next_tests` has every quantity
    that was read or has a band; `plans` are for what changed lately. `habits` are what is poured by hand at a steady
    rhythm, `changing` the mixes that water is so changed with: `forecasts` go on with both, `if_nothing_given` (only
    where there are any) tell what comes without.
    `replayed` is what was predicted of past readings, by kind and time. `gone` are what went or was cut, each with its
    share of all that covered the ground just before; `came` are arrivals, each with what it is predicted to take up of
    alkalinity (meq/L/day).
    """

    system: str
    as_of: datetime
    latest: dict[str, Latest]
    ledger: tuple[LedgerLine, ...]
    uptake: dict[str, Uptake]
    calcification: Calcification
    forecasts: dict[str, Forecast | CannotTell]
    trends: dict[str, Trend]
    readings: tuple[tuple[Reading, float], ...]
    health: WaterHealth | None = None
    next_tests: dict[str, NextTest] = field(default_factory=dict)
    plans: tuple[ReadingPlan, ...] = ()
    habits: tuple[Habit, ...] = ()
    changing: tuple[Habit, ...] = ()
    if_nothing_given: dict[str, Forecast] = field(default_factory=dict)
    replayed: tuple[Replayed, ...] = ()
    gone: tuple[tuple[datetime, float], ...] = ()
    came: tuple[tuple[datetime, Estimate], ...] = ()

    def learned_error(self, kind: str) -> Canonical | None:
        """By how much a kind's readings were found to stray, one standard deviation; None where none teach it."""
        uptake = self.uptake.get(kind)
        return uptake.kit_error.value if uptake and uptake.readings else None
