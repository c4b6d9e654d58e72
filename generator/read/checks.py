"""The list of checks across records. Each looks at the draft and yields its problems; none depends on another."""

from collections.abc import Callable, Iterator

from generator.read import (
    check_considered,
    check_corals,
    check_dismissals,
    check_genera,
    check_given,
    check_logs,
    check_photos,
    check_systems,
    check_trades,
)
from generator.read.draft import Draft
from generator.read.references import unresolved
from generator.records.problem import Problem

Check = Callable[[Draft], Iterator[Problem]]

CHECKS: tuple[Check, ...] = (
    unresolved,
    check_systems.bands_upside_down,
    check_systems.targets_outside_the_band,
    check_systems.solutions_without_strength,
    check_systems.unknown_compounds,
    check_systems.kits_without_error,
    check_systems.water_that_does_not_fit,
    check_systems.places_outside_their_part,
    check_systems.places_that_overlap,
    check_systems.implausible_levels,
    check_logs.logs_of_no_system,
    check_logs.entries_in_the_wrong_month,
    check_logs.entries_in_the_future,
    check_logs.entries_before_the_system,
    check_logs.one_moment_twice,
    check_logs.the_same_reading_twice,
    check_logs.implausible_readings,
    check_logs.kits_that_do_not_read_it,
    check_logs.empty_entries,
    check_logs.more_water_changed_than_there_is,
    check_logs.containers_filled_over,
    check_dismissals.dismissals_of_nothing,
    check_corals.species_form,
    check_genera.genera_unknown_or_given_up,
    check_genera.safe_distances_of_no_genus,
    check_corals.parent_cycles,
    check_corals.lines_that_break,
    check_corals.lines_almost_the_same,
    check_corals.names_twice,
    check_corals.days_out_of_order,
    check_corals.days_in_the_future,
    check_corals.parents_that_came_later,
    check_corals.cuttings_of_another,
    check_corals.weighings_that_cannot_be,
    check_corals.corals_without_a_place,
    check_photos.photos_without_words,
    check_photos.pictures_without_words,
    check_considered.considered_twice,
    check_considered.considered_on_impossible_days,
    check_considered.considered_without_extent,
    check_trades.before_the_partner,
    check_trades.trades_of_nothing,
    check_trades.days_that_disagree,
    check_trades.given_when_not_here,
    check_given.given_already,
    check_given.given_and_kept,
    check_given.more_given_than_cut,
    check_given.given_in_quarantine,
    check_trades.travel_that_cannot_be,
    check_trades.dates_in_names,
    check_trades.posts_without_words,
)
