"""The checks across records. Each yields its problems from the draft; the first: every reference leads to a record."""

from collections.abc import Callable, Collection, Iterator
from types import FunctionType, ModuleType
from typing import NamedTuple

from generator.read import (
    check_corals,
    check_logs,
    check_plans,
    check_slips,
    check_slips_corals,
    check_slips_logs,
    check_systems,
    check_trades,
)
from generator.read.draft import Draft
from generator.read.messages import did_you_mean, listed_names
from generator.records.coral import Coral, Photo, Provenance
from generator.records.log import LogEntry
from generator.records.source import Problem, Source
from generator.records.trade import Planned, Trade


class _Reference(NamedTuple):
    """A name at a path of a record, the kind it names, and the known names."""

    record: Source
    path: tuple[str | int, ...]
    name: str
    what: str
    known: Collection[str]
    otherwise: str = ""
    where: str = ""


def unresolved(draft: Draft) -> Iterator[Problem]:
    """A problem for every reference that leads nowhere."""
    for reference in _references(draft):
        if reference.name in reference.known:
            continue
        key = reference.path[-1] == reference.name  # the name is itself the key, as under `doses:`
        source = draft.at(reference.record, *reference.path, of_key=key)
        there = listed_names(sorted(reference.known), 8)
        otherwise = reference.otherwise or (
            f"write one of {there}" if there else f"there is none yet: add the {reference.what}"
        )
        yield Problem(
            source,
            "unknown-reference",
            f"there is no {reference.what} '{reference.name}'{reference.where}",
            did_you_mean(reference.name, reference.known, otherwise),
        )


def _references(draft: Draft) -> Iterator[_Reference]:
    for system in draft.systems.values():
        parts = [part.name for part in system.parts]
        for id, place in system.places.items():
            if place.part is not None:
                path = ("places", id, "part")
                yield _Reference(system.source, path, place.part, "part", parts, where=" in this system")
    for system_id, log in draft.written.items():
        for line in log:
            yield from _of_log_entry(line, system_id, draft)
    for coral in draft.corals.values():
        yield from _of_coral(coral, draft)
    for trade in draft.trades.values():
        yield from _of_trade(trade, draft)
    for plan in draft.plans.values():
        yield from _of_plan(plan, draft)
    for entry in draft.entries.values():
        for kind in ("systems", "corals"):
            for index, name in enumerate(getattr(entry, kind)):
                yield _named(entry.source, (kind, index), name, kind, draft)
        yield from _of_photos(entry.photos, draft)


_WORDS = {"systems": "system", "corals": "coral", "trades": "trade", "partners": "partner"}


def _named(record: Source, path: tuple[str | int, ...], name: str, kind: str, draft: Draft) -> _Reference:
    return _Reference(
        record, path, name, _WORDS[kind], draft.names[kind], f"make {kind}/{name}.yaml, or correct the name"
    )


def _of_log_entry(entry: LogEntry, system_id: str, draft: Draft) -> Iterator[_Reference]:
    if entry.event and entry.event.coral:
        yield _named(entry.source, ("event", "coral"), entry.event.coral, "corals", draft)
    system = draft.systems.get(system_id)
    if system is None:
        return
    where = f" in {system.source.file}"
    named = {"doses": entry.doses, "pumps": entry.pumps, "filled": entry.filled}
    named["measured_rate"] = entry.measured_rate
    used = [((part, name), name) for part, amounts in named.items() for name in amounts]
    if entry.top_off and entry.top_off.solution:
        used.append((("top_off", "solution"), entry.top_off.solution))
    for path, name in used:
        yield _Reference(entry.source, path, name, "solution", system.solutions, where=where)
    if entry.kit:
        yield _Reference(entry.source, ("kit",), entry.kit, "kit", system.kits, where=where)
    if entry.water_change and entry.water_change.mix:
        mix = entry.water_change.mix
        yield _Reference(entry.source, ("water_change", "mix"), mix, "mix", system.mixes, where=where)


def _of_coral(coral: Coral, draft: Draft) -> Iterator[_Reference]:
    if coral.parent:
        yield _named(coral.source, ("parent",), coral.parent, "corals", draft)
    for part, record in (("arrival", coral.arrival), ("end", coral.end)):
        if record and record.partner:
            yield _named(coral.source, (part, "partner"), record.partner, "partners", draft)
        if record and record.trade:
            yield _named(coral.source, (part, "trade"), record.trade, "trades", draft)
    for index, placement in enumerate(coral.placements):
        yield _named(coral.source, ("placements", index, "system"), placement.system, "systems", draft)
        system = draft.systems.get(placement.system)
        if placement.place and system:
            path = ("placements", index, "place")
            where = f" in {system.source.file}"
            yield _Reference(coral.source, path, placement.place, "place", system.places, where=where)
    for index, cutting in enumerate(coral.cuttings):
        for number, name in enumerate(cutting.into):
            yield _named(coral.source, ("cuttings", index, "into", number), name, "corals", draft)
    for index, touch in enumerate(coral.touches):
        yield _named(coral.source, ("touches", index, "coral"), touch.coral, "corals", draft)
    yield from _of_photos(coral.photos, draft)
    if coral.provenance:
        yield from _of_provenance(coral.provenance, draft)


def _of_provenance(provenance: Provenance, draft: Draft) -> Iterator[_Reference]:
    file = provenance.file
    yield _Reference(provenance.source, ("file",), file, "record of origin", draft.received, f"put it back at {file}")
    for ancestor in provenance.ancestors:
        if ancestor.here:
            yield _named(ancestor.source, ("here",), ancestor.here, "corals", draft)


def _of_photos(photos: tuple[Photo, ...], draft: Draft) -> Iterator[_Reference]:
    known = {path.removeprefix("photos/") for path in draft.photos}
    for photo in photos:
        name = photo.file.removeprefix("photos/")
        yield _Reference(photo.source, ("file",), name, "photo", known, f"put the picture at photos/{name}")


def _of_trade(trade: Trade, draft: Draft) -> Iterator[_Reference]:
    yield _named(trade.source, ("partner",), trade.partner, "partners", draft)
    for index, given in enumerate(trade.gave):
        yield _named(trade.source, ("gave", index, "coral"), given.coral, "corals", draft)
    for index, owed in enumerate(trade.owed):
        if owed.coral:
            yield _named(trade.source, ("owed", index, "coral"), owed.coral, "corals", draft)
    moved = {given.coral for given in trade.gave} | {received.coral for received in trade.received}
    for index, check in enumerate(trade.checks):
        if check.coral:
            path = ("checks", index, "coral")
            otherwise = "list it under 'gave' or 'received'"
            yield _Reference(trade.source, path, check.coral, "coral", moved, otherwise, " in this trade")
    yield from _of_travel(trade, draft)


def _of_travel(record: Trade | Planned, draft: Draft) -> Iterator[_Reference]:
    if record.travel and record.travel.container and draft.settings:
        known, name = draft.settings.containers, record.travel.container
        path = ("travel", "container")
        example = f"{{{name}: {{length: 50 cm, width: 40 cm, height: 30 cm}}}}"
        otherwise = f"write its inner size in journal.yaml, such as containers: {example}"
        yield _Reference(record.source, path, name, "container", known, otherwise)


def _of_plan(plan: Planned, draft: Draft) -> Iterator[_Reference]:
    if plan.partner:
        yield _named(plan.source, ("partner",), plan.partner, "partners", draft)
    for index, given in enumerate(plan.going):
        yield _named(plan.source, ("going", index, "coral"), given.coral, "corals", draft)
    for index, owed in enumerate(plan.owed):
        if owed.coral and owed.coral not in {new.coral for new in plan.coming}:
            yield _named(plan.source, ("owed", index, "coral"), owed.coral, "corals", draft)
    for move in plan.moving:
        for key, kind, name in (
            ("coral", "corals", move.coral),
            ("all_of", "systems", move.all_of),
            ("to", "systems", move.to),
        ):
            if name:
                yield _named(move.source, (key,), name, kind, draft)
        yield from _of_spot(move.source, move.to, move.place, draft)
    for new in plan.coming:
        if new.system:
            yield _named(new.source, ("system",), new.system, "systems", draft)
        yield from _of_spot(new.source, new.system, new.place, draft)
    yield from _of_travel(plan, draft)


def _of_spot(record: Source, system: str | None, place: str | None, draft: Draft) -> Iterator[_Reference]:
    found = draft.systems.get(system or "")
    if place and found:
        where = f" in {found.source.file}"
        yield _Reference(record, ("place",), place, "place", found.places, where=where)


Check = Callable[[Draft], Iterator[Problem]]
_MODULES = (
    check_systems,
    check_logs,
    check_corals,
    check_trades,
    check_plans,
    check_slips_logs,
    check_slips_corals,
    check_slips,
)


def _checks_of(module: ModuleType) -> Iterator[Check]:
    """Every public function of a module that gives the problems of a draft."""
    for name, each in vars(module).items():
        if type(each) is FunctionType and not name.startswith("_") and each.__annotations__ == _OF_A_CHECK:
            yield each


_OF_A_CHECK = {"draft": Draft, "return": Iterator[Problem]}
CHECKS: tuple[Check, ...] = (unresolved, *(check for module in _MODULES for check in _checks_of(module)))
# Each of these looks at one file of a log at a time.
MONTH_BY_MONTH: tuple[Check, ...] = (
    check_logs.entries_in_the_wrong_month,
    check_logs.entries_in_the_future,
    check_logs.entries_before_the_system,
    check_logs.kits_that_do_not_read_it,
    check_logs.empty_entries,
    check_logs.dismissals_of_unknown_alerts,
    check_slips.entries_out_of_order,
)
# Each of these looks at one system's log at a time.
LOG_BY_LOG: tuple[Check, ...] = (
    *(check for check in _checks_of(check_logs) if check not in MONTH_BY_MONTH),
    *_checks_of(check_slips_logs),
    check_slips.log_months_years_apart,
)
# Each of these looks at one coral, trade or entry at a time: of many, only those near a change are looked at again.
RECORD_BY_RECORD: tuple[Check, ...] = (
    unresolved,
    check_corals.days_out_of_order,
    check_corals.days_in_the_future,
    check_corals.weighings_that_cannot_be,
    check_corals.weighings_in_impossible_water,
    check_corals.sizes_beyond_any_tank,
    check_slips.days_of_corals_out_of_order,
    check_slips.ends_after_years,
    check_slips.sizes_years_apart,
    check_slips_corals.unusual_sides,
    check_slips_corals.centres_outside_their_place,
    check_slips_corals.implausible_light,
    check_slips_corals.frags_heavier_than_the_mother,
    check_slips_corals.masses_that_do_not_fit_the_size,
    check_slips_corals.masses_that_jump,
    check_slips_corals.water_of_weighings,
    check_trades.dates_in_names,
    check_trades.posts_without_words,
    check_trades.photos_without_words,
    check_trades.pictures_without_words,
)

# Those that hold of a record with mistakes too: none of them takes what is left out for missing.
OF_SYSTEMS: tuple[Check, ...] = (
    unresolved,
    check_systems.reversed_bands,
    check_systems.targets_outside_the_band,
    check_systems.unknown_compounds,
    check_systems.kits_without_error,
    check_systems.water_that_does_not_fit,
    check_systems.parts_of_one_name,
    check_systems.places_outside_their_part,
    check_systems.photoperiods_over_a_day,
    check_systems.implausible_levels,
)
OF_WHAT_IS_SAID: tuple[Check, ...] = (
    unresolved,
    check_logs.entries_in_the_wrong_month,
    check_logs.entries_in_the_future,
    check_logs.entries_before_the_system,
    check_corals.species_form,
    check_corals.parent_cycles,
    check_corals.safe_distances_of_no_genus,
    check_corals.days_out_of_order,
    check_corals.days_in_the_future,
    check_corals.weighings_that_cannot_be,
    check_corals.weighings_in_impossible_water,
    check_plans.plans_on_impossible_days,
    check_plans.promises_not_kept_by_plans,
    check_trades.before_the_partner,
    check_trades.days_that_disagree,
    check_trades.states_in_the_future,
    check_trades.dates_in_names,
    check_plans.no_pieces_given,
    check_trades.travel_that_cannot_be,
    check_trades.water_on_the_way_that_cannot_be,
)
