from datetime import UTC, date, datetime, time

import pytest

from generator.reckon.finding import CannotTell, Finding
from generator.reckon.lineage.lines import LEAST_ARRIVALS, survival
from generator.records.log import Note, SystemLog, first_day, spells
from generator.records.source import Source
from tests.reckon.lineage.register import day, piece, trade

NOW = day(1000)


def group(found, by, name):
    return next(each for each in found if (each.by, each.name) == (by, name))


def horizon(found, days):
    return next(each for each in found.horizons if each.days == days)


def arrivals(ended: dict[int, tuple[int, str]], count: int = 10, **more):
    return [piece(f"{more.get('how', 'trade')}{n}", ended=ended.get(n), **more) for n in range(count)]


def test_survival_is_the_share_that_is_left_where_all_were_watched():
    found = group(survival(arrivals({0: (20, "died"), 1: (60, "lost")}), {}, NOW, None), "all", "all")
    assert (found.arrivals, found.lost) == (10, 2)
    answers = [each.survival for each in found.horizons]
    assert all(isinstance(answer, Finding) for answer in answers)
    assert [answer.estimate.value for answer in answers] == pytest.approx([90.0, 80.0, 80.0])
    assert all(answer.estimate.low < answer.estimate.value < answer.estimate.high for answer in answers)
    assert [each.at_risk for each in found.horizons] == [9, 8, 8]


def test_a_coral_given_away_was_watched_until_then_and_is_no_loss():
    found = group(survival(arrivals({0: (20, "given"), 1: (60, "died")}), {}, NOW, None), "all", "all")
    assert found.lost == 1
    # Nine were at risk on day 60.
    answer = horizon(found, 90).survival
    assert isinstance(answer, Finding)
    assert answer.estimate.value == pytest.approx(100.0 * 8 / 9)


def test_a_death_after_the_day_has_not_happened_yet():
    found = group(survival(arrivals({0: (900, "died")}), {}, day(800), None), "all", "all")
    assert found.lost == 0


def test_cuttings_of_ones_own_are_not_arrivals():
    assert survival([piece("a", how="cutting"), piece("b", how="broken-off")], {}, NOW, None) == ()


def test_of_few_arrivals_nothing_is_said():
    found = group(survival(arrivals({}, LEAST_ARRIVALS - 1), {}, NOW, None), "all", "all")
    answer = horizon(found, 30).survival
    assert isinstance(answer, CannotTell)
    assert ("arrivals", "4") in answer.numbers


def test_of_a_day_few_were_watched_to_nothing_is_said():
    late = [piece(f"late{n}", at=900) for n in range(8)] + [piece("early"), piece("earlier")]
    found = group(survival(late, {}, NOW, None), "all", "all")
    assert isinstance(horizon(found, 90).survival, Finding)
    answer = horizon(found, 365).survival
    assert isinstance(answer, CannotTell)
    assert answer.why == "not-watched-long-enough"
    assert horizon(found, 365).at_risk == 2


def test_where_all_arrivals_lived_the_interval_still_leaves_room_for_loss():
    answer = horizon(group(survival(arrivals({}, 6), {}, NOW, None), "all", "all"), 90).survival
    assert isinstance(answer, Finding)
    # Source: Clopper & Pearson 1934: 0.05**(1/6) = 0.607.
    assert (answer.estimate.low, answer.estimate.value) == (pytest.approx(60.7, abs=0.05), 100.0)


def test_groups_are_by_how_they_came_and_how_long_they_travelled():
    corals = [*arrivals({}, 5, how="gift"), *arrivals({0: (3, "died")}, 5, how="bought")]
    gifts = tuple(f"gift{n}" for n in range(5))
    trades = {
        "near": trade("near", "mara", received=gifts, hours=0.8),
        "far": trade("far", "joren", received=("bought0",), hours=20.0),
        "unknown": trade("unknown", "joren", received=("bought1",)),
    }
    found = survival(corals, trades, NOW, None)
    assert [(each.by, each.name, each.arrivals) for each in found] == [
        ("all", "all", 10),
        ("how-it-came", "bought", 5),
        ("how-it-came", "gift", 5),
        ("how-it-travelled", "parcel", 1),
        ("how-it-travelled", "short-trip", 5),
    ]
    assert group(found, "how-it-came", "bought").lost == 1


def test_a_coral_that_names_its_trade_travelled_as_that_did():
    found = survival([piece("a", trade="t")], {"t": trade("t", "mara", hours=6.0)}, NOW, None)
    assert group(found, "how-it-travelled", "long-trip").arrivals == 1


def test_a_coral_from_before_the_journal_is_watched_from_its_first_day_on():
    # Ten came on day 0, of which two were lost on day 20; the journal began on day 100. Ten more came on day 200.
    before = arrivals({0: (20, "died"), 1: (20, "lost"), 2: (150, "died")})
    after = [piece(f"new{n}", at=200, ended=(230, "died") if n == 0 else None) for n in range(10)]
    found = group(survival([*before, *after], {}, NOW, day(100)), "all", "all")
    assert (found.arrivals, found.lost) == (18, 2), "nobody would have written down those that were lost before"
    first, second, year = (each.survival for each in found.horizons)
    # In the first hundred days only the ten new ones were watched, of which one was lost; then eight more.
    assert [first.estimate.value, second.estimate.value] == pytest.approx([90.0, 90.0])
    assert year.estimate.value == pytest.approx(90.0 * 16 / 17)
    assert [each.at_risk for each in found.horizons] == [10, 9, 16]


def test_of_days_that_no_coral_was_watched_in_nothing_is_said():
    found = group(survival(arrivals({}), {}, NOW, day(50)), "all", "all")
    answer = horizon(found, 365).survival
    assert isinstance(answer, CannotTell)
    assert ("watched", "0") in answer.numbers


def test_the_curve_is_told_only_as_long_as_enough_were_watched():
    late = [piece(f"late{n}", at=900) for n in range(8)] + [piece("early"), piece("earlier")]
    assert group(survival(late, {}, NOW, None), "all", "all").told_until == 100.0
    assert group(survival(arrivals({}), {}, NOW, None), "all", "all").told_until == 365.0
    # All came before the journal began: nobody watched their first days.
    assert group(survival(arrivals({}), {}, NOW, day(50)), "all", "all").told_until == 0.0


def log(*days: int) -> SystemLog:
    noon = (datetime.combine(day(n), time(12), UTC) for n in days)
    return SystemLog(
        "reef", notes=tuple(Note(source=Source("log"), at=at, text="cleaned", private=False) for at in noon)
    )


def began(*logs: SystemLog) -> date | None:
    return first_day(map(spells, logs), UTC)


def test_a_journal_began_with_the_first_line_since_its_last_year_without_any():
    assert began() is None
    assert began(log(700, 720, 1000)) == day(700)
    assert began(log(3, 700, 720, 1000)) == day(700), "one lone old line begins no journal"
    assert began(log(3, 10, 700), log(690, 1300)) == day(1300), "nor do a few, nor another pause"
    assert began(log(3, 700), log(360, 1060)) == day(3), "one log goes on where another rests"
