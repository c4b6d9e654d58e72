"""The family tree of each line, where its corals are, which lines one loss would end here; and how arrivals survive."""

from collections.abc import Iterable, Mapping
from datetime import date
from typing import TYPE_CHECKING, Literal

from msgspec import Struct

from generator.door.door import grouped, later
from generator.reckon.finding import Answer, CannotTell, Finding, one_cause, uncertainty_parts
from generator.records.coral import Coral
from generator.records.source import Source
from generator.records.trade import Trade
from generator.units.quantity import Days, Estimate

if TYPE_CHECKING:
    from generator.reckon.estimate.uncertainty import SurvivalCurve

with later():  # to say how the groups are named needs none of it
    from generator.reckon.estimate import uncertainty as _uncertainty

# A merged coral lives on in another.
Fate = Literal["living", "given", "lost", "merged"]
_FATES: dict[str, Fate] = {"given": "given", "sold": "given", "merged": "merged"}


class GivenPieces(Struct, frozen=True):
    """Frags that left in a trade without a file of their own."""

    partner: str
    pieces: int
    at: date
    trade: str
    source: Source


class FamilyMember(Struct, frozen=True):
    """One coral in the tree: its parent and frags within the line, its depth (a root: 0), and its fate.

    `system` is where it is (living), `partner` who has it (given, if recorded).
    """

    coral: str
    parent: str | None
    cuttings: tuple[str, ...]
    depth: int
    fate: Fate
    system: str | None
    partner: str | None
    since: date
    until: date | None
    given: tuple[GivenPieces, ...]
    source: Source


class Family(Struct, frozen=True):
    """A line's tree: every piece in order from the roots down. A coral that is its own ancestor is in none."""

    line: str
    pieces: Mapping[str, FamilyMember]

    @property
    def living(self) -> tuple[FamilyMember, ...]:
        """The pieces that are here and alive."""
        return tuple(piece for piece in self.pieces.values() if piece.fate == "living")


def families(corals: Iterable[Coral], trades: Iterable[Trade], as_of: date) -> dict[str, Family]:
    """Every line's tree on a day, by line in order of name; corals and trades of later days do not count.

    A coral is a root if its parent is not in the journal or belongs to another line.
    """
    lines: dict[str, dict[str, Coral]] = {}
    for coral in corals:
        if coral.arrival.at <= as_of:
            lines.setdefault(coral.line, {})[coral.id] = coral
    given = _given(trades, as_of)
    return {line: _family(line, lines[line], given, as_of) for line in sorted(lines)}


def _given(trades: Iterable[Trade], as_of: date) -> dict[str, tuple[GivenPieces, ...]]:
    made = sorted((trade for trade in trades if trade.at <= as_of), key=lambda trade: (trade.at, trade.id))
    return grouped(
        (gift.coral, GivenPieces(trade.partner, gift.frags, trade.at, trade.id, gift.source))
        for trade in made
        for gift in trade.gave
        if not gift.whole
    )


def _family(
    line: str, corals: Mapping[str, Coral], given: Mapping[str, tuple[GivenPieces, ...]], as_of: date
) -> Family:
    parents = {id: coral.parent if coral.parent in corals else None for id, coral in corals.items()}
    cuttings: dict[str, list[str]] = {id: [] for id in corals}
    for id in sorted(corals, key=lambda id: (corals[id].arrival.at, id)):
        parent = parents[id]
        if parent is not None:
            cuttings[parent].append(id)
    roots = sorted((id for id, parent in parents.items() if parent is None), key=lambda id: (corals[id].arrival.at, id))
    depth: dict[str, int] = {}
    pieces = {}
    for id in _downwards(roots, cuttings):
        parent = parents[id]
        depth[id] = depth[parent] + 1 if parent is not None else 0
        pieces[id] = _piece(corals[id], parent, tuple(cuttings[id]), depth[id], given.get(id, ()), as_of)
    return Family(line, pieces)


def _downwards(roots: Iterable[str], cuttings: Mapping[str, list[str]]) -> list[str]:
    """Every coral after its parent, one whole branch after another. It uses a stack, because lines can be deep."""
    order = []
    stack = list(reversed(list(roots)))
    while stack:
        here = stack.pop()
        order.append(here)
        stack.extend(reversed(cuttings[here]))
    return order


def _piece(
    coral: Coral, parent: str | None, cuttings: tuple[str, ...], depth: int, given: tuple[GivenPieces, ...], as_of: date
) -> FamilyMember:
    end = coral.end if coral.end and coral.end.at <= as_of else None
    fate: Fate = "living" if end is None else _FATES.get(end.how, "lost")
    stands = coral.placement_on(as_of)
    return FamilyMember(
        coral=coral.id,
        parent=parent,
        cuttings=cuttings,
        depth=depth,
        fate=fate,
        system=stands.system if stands else None,
        partner=end.partner if end and fate == "given" else None,
        since=coral.arrival.at,
        until=end.at if end else None,
        given=given,
        source=coral.source,
    )


class Holder(Struct, frozen=True):
    """A partner who has, or had, a coral of a line and could give one back: they got it from us, or gave us ours."""

    partner: str
    since: date
    how: Literal["got-from-us", "gave-us"]
    inputs: tuple[Source, ...]


class AtRisk(Struct, frozen=True):
    """A line that the loss of one `piece` or one `system` would end, and who could give one back.

    `pieces` are its living corals, `system` is where they are (None: not recorded), `since` the day the line
    came, `wild` whether it was collected from the sea (CITES source code W).
    """

    line: str
    by: Literal["piece", "system"]
    pieces: tuple[str, ...]
    system: str | None
    holders: tuple[Holder, ...]
    since: date
    wild: bool
    inputs: tuple[Source, ...]


def lines_at_risk(
    families: Mapping[str, Family], corals: Mapping[str, Coral], trades: Iterable[Trade], as_of: date
) -> tuple[AtRisk, ...]:
    """Lines that one loss would end, the hardest to replace first.

    The order: fewer partners who hold one, then one coral before one system, then wild origin, then the
    longest kept.
    """
    received = received_from(trades, as_of)
    found = []
    for line, family in families.items():
        living = family.living
        systems = {piece.system for piece in living}
        if not living or (len(living) > 1 and len(systems) > 1):
            continue
        found.append(
            AtRisk(
                line,
                "piece" if len(living) == 1 else "system",
                tuple(piece.coral for piece in living),
                next(iter(systems)),
                holders(family, corals, received),
                min(piece.since for piece in family.pieces.values()),
                any(_wild(corals[id]) for id in family.pieces if id in corals),
                tuple(piece.source for piece in living),
            )
        )
    return tuple(sorted(found, key=lambda r: (len(r.holders), r.by != "piece", not r.wild, r.since, r.line)))


def holders(
    family: Family, corals: Mapping[str, Coral], received: Mapping[str, tuple[str, Source]]
) -> tuple[Holder, ...]:
    """Partners who hold a coral of a line, each once, with the last one given or received; by name.

    `received` gives the partner and the line of the trade for a coral that came in one.
    """
    passed: list[Holder] = []
    for piece in family.pieces.values():
        passed += (Holder(gift.partner, gift.at, "got-from-us", (gift.source,)) for gift in piece.given)
        coral = corals.get(piece.coral)
        if coral is None:
            continue
        if piece.fate == "given" and piece.partner and piece.until:
            passed.append(Holder(piece.partner, piece.until, "got-from-us", (coral.source,)))
        giver, source = received.get(piece.coral, (coral.arrival.partner, coral.arrival.source))
        if giver:
            passed.append(Holder(giver, piece.since, "gave-us", (source,)))
    last = {holder.partner: holder for holder in sorted(passed, key=lambda holder: (holder.since, holder.partner))}
    return tuple(last[partner] for partner in sorted(last))


def received_from(trades: Iterable[Trade], as_of: date) -> dict[str, tuple[str, Source]]:
    """The partner, and the line of the trade, for each coral that came in one up to a day."""
    return {
        arrival.coral: (trade.partner, arrival.source)
        for trade in trades
        if trade.at <= as_of
        for arrival in trade.received
    }


def _wild(coral: Coral) -> bool:
    return coral.origin is not None and coral.origin.source_code == "W"


HORIZONS = (30, 90, 365)
# The least arrivals to report, and the least still watched on a day to report that day.
LEAST_ARRIVALS = 5
LEAST_AT_RISK = 3
# Hours that separate a short trip, a long trip and a parcel; our own limits.
SHORT_TRIP, LONG_TRIP = 2.0, 12.0

By = Literal["all", "how-it-came", "how-it-travelled"]


class Horizon(Struct, frozen=True):
    """Survival (%) to a number of days, and how many were still watched then."""

    days: int
    survival: Answer
    at_risk: int


class GroupSurvival(Struct, frozen=True):
    """A group of arrivals: how many, how many were lost, the curve in days, survival at each horizon.

    `name` is a way of coming (`trade`, `gift`, …) or a trip (`short-trip`, `long-trip`, `parcel`).
    """

    by: By
    name: str
    arrivals: int
    lost: int
    curve: "SurvivalCurve"
    horizons: tuple[Horizon, ...]

    @property
    def told_until(self) -> Days:
        """Until how many days after arrival enough were watched, at most the last of the horizons."""
        times = {*map(float, HORIZONS), *(time for time in self.curve.times if time < HORIZONS[-1])}
        return max((time for time in times if _enough(self.curve, time)), default=0.0)


class _Watched(Struct, frozen=True):
    """A coral, and the days after its arrival from which (0: the first) and until which it was watched."""

    coral: Coral
    since: float
    days: float
    lost: bool


def survival(
    corals: Iterable[Coral], trades: Mapping[str, Trade], as_of: date, began: date | None
) -> tuple[GroupSurvival, ...]:
    """Survival of the corals that came from elsewhere (own frags do not count), all together and by groups.

    A death or a loss is an event. A coral given, sold, merged, or still here is censored on that day. One that came
    before the journal `began` is watched from then on: had it been lost before, nobody would have written it down.
    """
    came = (coral for coral in corals if coral.arrival.how not in ("cutting", "broken-off", "settled"))
    every = (_watch(coral, as_of, began) for coral in came if coral.arrival.at <= as_of)
    watched = [each for each in every if each.since < each.days or not each.since]
    if not watched:
        return ()
    groups: dict[tuple[By, str], list[_Watched]] = {("all", "all"): watched}
    by_coral = {arrival.coral: trade for trade in trades.values() for arrival in trade.received}
    for each in watched:
        arrival = each.coral.arrival
        groups.setdefault(("how-it-came", arrival.how), []).append(each)
        trip = _trip(trades.get(arrival.trade or "") or by_coral.get(each.coral.id))
        if trip:
            groups.setdefault(("how-it-travelled", trip), []).append(each)
    return tuple(_survival(by, name, group) for (by, name), group in sorted(groups.items()))


def _watch(coral: Coral, as_of: date, began: date | None) -> _Watched:
    end = coral.end if coral.end and coral.end.at <= as_of else None
    until, came = end.at if end else as_of, coral.arrival.at
    since = max((began - came).days, 0) if began else 0
    return _Watched(coral, float(since), float((until - came).days), end is not None and end.how in ("died", "lost"))


def _trip(trade: Trade | None) -> str | None:
    if trade is None or trade.travel is None:
        return None
    hours = trade.travel.duration.canonical()
    return "short-trip" if hours <= SHORT_TRIP else "long-trip" if hours <= LONG_TRIP else "parcel"


def _survival(by: By, name: str, group: list[_Watched]) -> GroupSurvival:
    curve = _uncertainty.kaplan_meier(
        [each.days for each in group], [each.lost for each in group], [each.since for each in group]
    )
    inputs = tuple(each.coral.arrival.source for each in group)
    return GroupSurvival(
        by,
        name,
        len(group),
        sum(each.lost for each in group),
        curve,
        tuple(Horizon(days, _at(curve, days, len(group), inputs), curve.at_risk(days)) for days in HORIZONS),
    )


def _enough(curve: "SurvivalCurve", days: Days) -> bool:
    """Whether enough were watched up to a day. Where all are gone the curve says so, however few were left."""
    return curve.least_at_risk(days) >= LEAST_AT_RISK or not (curve.survival(days)[0] or max(curve.entered))


def _at(curve: "SurvivalCurve", days: int, arrivals: int, inputs: tuple[Source, ...]) -> Answer:
    if arrivals < LEAST_ARRIVALS:
        numbers = (("arrivals", f"{arrivals}"), ("least", f"{LEAST_ARRIVALS}"))
        return CannotTell("too-few-arrivals", "more-arrivals", numbers, inputs)
    value, standard = curve.survival(days)
    if not _enough(curve, days):
        watched = (("watched", f"{curve.least_at_risk(days)}"), ("least", f"{LEAST_AT_RISK}"), ("days", f"{days}"))
        return CannotTell("not-watched-long-enough", "wait", watched, inputs)
    low, high = curve.interval(days)
    found = Estimate(value, low, high, "1").scaled(100.0, "%")
    parts = uncertainty_parts([("watched", 100.0 * standard)]) or one_cause("watched", found)
    return Finding(found, "survival", inputs, parts)
