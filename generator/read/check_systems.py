"""Checks of the systems: bands, solutions, water, places."""

import itertools
from collections.abc import Iterator

from generator.read.draft import Draft
from generator.read.plausible import amount, as_written, implausible, warn
from generator.records.source import Problem, Source
from generator.records.system import Levels, Place, Solution, System
from generator.units.compounds import COMPOUNDS, UnknownFormula, molar_mass
from generator.units.kinds import KINDS, TAKEN_UP, WATER_KINDS
from generator.units.quantity import Quantity, per_day

# Ranges made narrower than this are a doubt. A choice of ours.
NARROWER = 0.7


def reversed_bands(draft: Draft) -> Iterator[Problem]:
    """A band's low end that is not below its high end."""
    for system in draft.systems.values():
        for kind, low, high in _pairs(system.low, system.high):
            if low >= high:
                wrong = f"the low end of {kind}, {system.low.of(kind)}, is not below its high end"
                yield Problem(
                    draft.at(system.low.source, kind),
                    "band",
                    wrong,
                    "swap or correct the two",
                    draft.at(system.high.source, kind),
                )


def targets_outside_the_band(draft: Draft) -> Iterator[Problem]:
    """A target outside its own band."""
    for system in draft.systems.values():
        if system.target is None:
            continue
        below = {kind for kind, low, target in _pairs(system.low, system.target) if target < low}
        above = {kind for kind, high, target in _pairs(system.high, system.target) if target > high}
        for kind in WATER_KINDS:
            if kind in below | above:
                end = system.low if kind in below else system.high
                wrong = f"the target of {system.target.of(kind)} is outside the band of {kind}"
                source = draft.at(system.target.source, kind)
                yield warn(source, "target", wrong, "correct one of the two", draft.at(end.source, kind))


def smallest_changes_without_uptake(draft: Draft) -> Iterator[Problem]:
    """A smallest change of a quantity whose uptake is not calculated."""
    for system in draft.systems.values():
        for kind in WATER_KINDS:
            if system.smallest_change and kind not in TAKEN_UP and system.smallest_change.of(kind):
                wrong = f"uptake of {kind} is not calculated, so no change of it can be found"
                remedy = f"delete it, or write one of {', '.join(TAKEN_UP)}"
                yield warn(draft.at(system.smallest_change.source, kind), "smallest-change", wrong, remedy)


def ranges_made_narrower(draft: Draft) -> Iterator[Problem]:
    """Ranges made narrower: a doubt, for the record must be long to tell that."""
    for system in draft.systems.values():
        for kind in TAKEN_UP:
            if system.likely_ranges and system.likely_ranges.of(kind) < NARROWER:
                wrong = f"likely ranges of {kind} are made {system.likely_ranges.of(kind):g} times as wide"
                remedy = "a track record seldom asks for less than 0.7: write what its page says"
                yield warn(draft.at(system.likely_ranges.source, kind), "likely-ranges", wrong, remedy)


def _pairs(first: Levels, second: Levels) -> Iterator[tuple[str, float, float]]:
    for kind in WATER_KINDS:
        one, other = first.of(kind), second.of(kind)
        if one and other and ((one.has_factor and other.has_factor) or one.unit == other.unit):
            yield kind, amount(one), amount(other)


def solutions_without_strength(draft: Draft) -> Iterator[Problem]:
    """A solution must say what a litre of it gives, in exactly one way."""
    for system, id, solution in _solutions(draft):
        source = draft.at(system.source, "solutions", id, of_key=True)
        if solution.declared and (solution.compound or solution.strength):
            yield Problem(source, "solution", f"'{id}' has two strengths", "keep compound and strength, or declared")
        elif solution.compound and not solution.strength:
            yield Problem(
                source,
                "solution",
                f"'{id}' does not say how much {solution.compound} is in a litre",
                "add for example 'strength: 60 g/L'",
            )
        elif solution.strength and not solution.compound:
            yield Problem(
                source, "solution", f"'{id}' does not say what it is made of", "add for example 'compound: NaHCO3'"
            )
        elif not solution.declared and not solution.compound:
            yield Problem(
                source,
                "solution",
                f"'{id}' has no strength",
                "add compound and strength, or what a litre gives, such as 'declared: {alkalinity: 10000 dKH}'",
            )


def unknown_compounds(draft: Draft) -> Iterator[Problem]:
    """A compound that Corallite does not know; its strength must be declared."""
    for _, _, solution in _solutions(draft):
        written = solution.compound
        if written is None or written in COMPOUNDS or solution.declared:
            continue
        try:
            mass = molar_mass(written)
            wrong = f"Corallite does not know the compound '{written}'"
            same = [formula for formula in COMPOUNDS if abs(molar_mass(formula) - mass) < 1e-6]
            remedy = f"write {same[0]}" if same else "use 'declared:' and write what a litre gives"
        except UnknownFormula:
            wrong = f"'{written}' is not a formula that Corallite knows"
            remedy = "write for example NaHCO3, Na2CO3, CaCl2.2H2O, MgCl2.6H2O, Ca(OH)2"
        yield Problem(draft.at(solution.source, "compound"), "compound", wrong, remedy)


def kits_without_error(draft: Draft) -> Iterator[Problem]:
    """A precision of zero or one too coarse: the estimate would trust nothing else, or gain nothing."""
    for system in draft.systems.values():
        for kit in system.kits.values():
            for kind in WATER_KINDS:
                precision = kit.precision.of(kind)
                if precision and precision.value == 0:
                    source = draft.at(kit.precision.source, kind)
                    wrong = f"no kit measures {kind} without error"
                    yield Problem(
                        source, "kit", wrong, "write the standard deviation of repeat tests on the same water"
                    )
                elif precision and _tells_nothing(precision):
                    source = draft.at(kit.precision.source, kind)
                    wrong = f"a precision of {precision} is too coarse to measure {kind}"
                    yield Problem(
                        source, "kit", wrong, "write the standard deviation of repeat tests on the same water"
                    )


def _tells_nothing(precision: Quantity) -> bool:
    """Whether readings with this error tell nothing: it is over a quarter of what a living reef can have."""
    kind = KINDS[precision.kind]
    if kind.plausible is None or not precision.has_factor:
        return False
    low, high = kind.plausible
    return per_day(precision.value, kind.id, precision.unit, kind.canonical) > (high - low) / 4.0


def _solutions(draft: Draft) -> Iterator[tuple[System, str, Solution]]:
    for system in draft.systems.values():
        for id, solution in system.solutions.items():
            yield system, id, solution


def water_that_does_not_fit(draft: Draft) -> Iterator[Problem]:
    """A volume of zero, one smaller than its uncertainty, or one larger than the tanks."""
    for system in draft.systems.values():
        water = system.water
        volume, spread = water.volume.canonical(), water.uncertainty.canonical()
        if volume <= 0:
            yield Problem(draft.at(water.source, "volume"), "water", "the water volume is 0", "write the volume")
        elif spread >= volume:
            wrong = f"the uncertainty, {water.uncertainty}, is not smaller than the volume, {water.volume}"
            yield Problem(
                draft.at(water.source, "uncertainty"), "water", wrong, "write one standard uncertainty, such as 5 L"
            )
        held = [part.volume.canonical() for part in system.parts if part.volume]
        if held and len(held) == len(system.parts) and volume > sum(held):
            all_hold = as_written(sum(held), water.volume)
            wrong = f"the water volume, {water.volume}, is more than the parts hold together, {all_hold}"
            source = draft.at(water.source, "volume")
            yield warn(source, "water", wrong, "correct one of them")


def parts_of_one_name(draft: Draft) -> Iterator[Problem]:
    """Two parts of a system with one name: a place says in which it is by the name alone."""
    for system in draft.systems.values():
        first: dict[str, Source] = {}
        for part in system.parts:
            if (before := first.setdefault(part.name, part.source)) is not part.source:
                wrong = f"there is a part '{part.name}' already"
                yield warn(part.source, "duplicate", wrong, "give it another name", before)


def places_outside_their_part(draft: Draft) -> Iterator[Problem]:
    """A place that reaches beyond its part of the system."""
    for system in draft.systems.values():
        parts = {part.name: part for part in system.parts}
        for id, place in system.places.items():
            part = parts.get(place.part or "")
            if part is None:
                continue
            for start, reach, limit, side in (
                (place.x, place.width, part.length, "right"),
                (place.y, place.depth, part.width, "back"),
            ):
                if limit and start.canonical() + reach.canonical() > limit.canonical() + 1e-9:
                    over = start.canonical() + reach.canonical() - limit.canonical()
                    wrong = f"'{id}' reaches {as_written(over, reach)} beyond the {side} of '{part.name}'"
                    source = draft.at(system.source, "places", id, of_key=True)
                    yield Problem(source, "place", wrong, "correct its corner or its size", part.source)


def places_that_overlap(draft: Draft) -> Iterator[Problem]:
    """Two places on the same ground at the same height."""
    for system in draft.systems.values():
        for (first, a), (second, b) in itertools.combinations(system.places.items(), 2):
            same_level = a.part == b.part and (a.height and a.height.canonical()) == (b.height and b.height.canonical())
            if same_level and _overlap(a, b):
                source = draft.at(system.source, "places", second, of_key=True)
                also = draft.at(system.source, "places", first, of_key=True)
                yield warn(
                    source, "place", f"'{second}' overlaps '{first}'", "correct the corners, or add their heights", also
                )


def _overlap(a: Place, b: Place) -> bool:
    def apart(start: Quantity, size: Quantity, other: Quantity) -> bool:
        return start.canonical() + size.canonical() <= other.canonical() + 1e-9

    return not (
        apart(a.x, a.width, b.x) or apart(b.x, b.width, a.x) or apart(a.y, a.depth, b.y) or apart(b.y, b.depth, a.y)
    )


def photoperiods_over_a_day(draft: Draft) -> Iterator[Problem]:
    """A photoperiod longer than a day."""
    for system in draft.systems.values():
        hours = system.photoperiod
        if hours is not None and hours.canonical() > 24.0:
            source = draft.at(system.source, "photoperiod")
            yield Problem(
                source, "photoperiod", f"a day cannot have {hours} of light", "write the hours of light in a day"
            )


def implausible_levels(draft: Draft) -> Iterator[Problem]:
    """A band, a target or a mix that no reef's water could have."""
    for system in draft.systems.values():
        for levels in (system.low, system.high, system.target, *system.mixes.values()):
            for kind in WATER_KINDS if levels else ():
                value = levels.of(kind) if levels else None
                found = implausible(value) if value else None
                if levels and found:
                    yield Problem(draft.at(levels.source, kind), "implausible", *found)
