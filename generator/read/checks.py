"""The checks across records. Each yields its problems from the draft; none depends on another."""

from collections.abc import Callable, Iterator
from types import ModuleType

from generator.read import (
    check_corals,
    check_logs,
    check_plans,
    check_slips,
    check_slips_corals,
    check_slips_logs,
    check_systems,
    check_trades,
    references,
)
from generator.read.draft import Draft
from generator.records.source import Problem

Check = Callable[[Draft], Iterator[Problem]]
_MODULES = (
    references,
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
        if not name.startswith("_") and getattr(each, "__annotations__", {}) == _OF_A_CHECK:
            yield each


_OF_A_CHECK = {"draft": Draft, "return": Iterator[Problem]}
CHECKS: tuple[Check, ...] = tuple(check for module in _MODULES for check in _checks_of(module))
# Each of these looks at one coral, trade or entry at a time: of many, only those near a change are looked at again.
RECORD_BY_RECORD: tuple[Check, ...] = (
    references.unresolved,
    check_corals.days_out_of_order,
    check_corals.days_in_the_future,
    check_corals.weighings_that_cannot_be,
    check_corals.weighings_in_impossible_water,
    check_corals.sizes_beyond_any_tank,
    check_slips_corals.unusual_sides,
    check_slips_corals.masses_of_another_size,
    check_slips_corals.masses_that_jump,
    check_slips_corals.water_of_weighings,
    check_trades.dates_in_names,
    check_trades.posts_without_words,
    check_trades.photos_without_words,
    check_trades.pictures_without_words,
)

# Those that hold of a record with mistakes too: none of them takes what is left out for missing.
OF_SYSTEMS: tuple[Check, ...] = (
    references.unresolved,
    check_systems.bands_upside_down,
    check_systems.targets_outside_the_band,
    check_systems.unknown_compounds,
    check_systems.kits_without_error,
    check_systems.water_that_does_not_fit,
    check_systems.parts_of_one_name,
    check_systems.places_outside_their_part,
    check_systems.light_of_more_than_a_day,
    check_systems.implausible_levels,
)
OF_WHAT_IS_SAID: tuple[Check, ...] = (
    references.unresolved,
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
