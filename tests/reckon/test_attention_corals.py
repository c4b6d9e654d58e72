"""What in the corals calls for a person: and nothing where all is as it was."""

from datetime import UTC, datetime
from zoneinfo import ZoneInfo

from generator.reckon.analysis.journal import analyse
from generator.reckon.attention import Alert, alerts
from generator.records.coral import Health
from generator.records.journal import Journal
from generator.records.log import Dismissal
from generator.records.settings import Settings
from generator.units.quantity import Quantity
from tests.reckon.growth.corals import cm, coral, day, here, par, place, placed, sizes, system

SETTINGS = Settings(source=here(), title="Reef", keeper="Keeper", time_zone=ZoneInfo("UTC"))
NIGHT, TODAY = "night", 400


def found(*corals, on: int = TODAY, **places) -> list[Alert]:
    lagoon = system(**(places or {"ledge": place(0, 0, 200, 100)}))
    journal = Journal(settings=SETTINGS, systems={"lagoon": lagoon}, corals={each.id: each for each in corals})
    as_of = datetime.combine(day(on), datetime.min.time(), UTC).replace(hour=12)
    return [alert for alert in alerts(journal, analyse(journal, as_of)) if alert.subject]


def spreading(id: str, x: float = 60.0, cm_a_year: float = 2.0, slower_from: int = 9999, after: float = 0.2, **more):
    days = list(range(0, 400, 40))
    lengths = [
        8.0 + 2.0 * cm_a_year / 365.25 * (min(at, slower_from) + after * max(0, at - slower_from)) for at in days
    ]
    written = {"placements": (placed(x=cm(x), y=cm(50.0)),), "sizes": sizes(days, lengths), **more}
    return coral(id, **written)


def of_kind(kind: str, *corals, **more) -> list[Alert]:
    return [alert for alert in found(*corals, **more) if alert.kind == kind]


def test_steady_growth_needs_nobody():
    assert not of_kind("growth-fell", spreading("one", cm_a_year=5.0))


def test_growth_that_fell_is_told_with_the_day_it_began():
    (fell,) = of_kind("growth-fell", spreading("one", cm_a_year=8.0, slower_from=200))
    numbers = fell.facts
    assert numbers["earliest"] <= day(200) <= numbers["latest"]
    assert fell.subject == ("one",)
    assert fell.size is not None
    assert fell.size.low > 25.0
    assert fell.system == "lagoon"


def test_a_dismissed_fall_stays_away_until_it_began_anew():
    (fell,) = of_kind("growth-fell", spreading("one", cm_a_year=8.0, slower_from=200))

    def dismissed(on: int) -> bool:
        at = datetime.combine(day(on), datetime.min.time(), UTC)
        return fell.is_hidden_by(Dismissal(source=here(), at=at, alert=fell.id, reason="It was moved on purpose."))

    assert dismissed(350)
    assert not dismissed(100), "what was dismissed before it began was another fall"


def test_neighbours_that_touch_next_month_are_told_and_far_ones_are_not():
    near = of_kind("neighbours-touch", spreading("one", 60.0), spreading("other", 72.8))
    assert [alert.subject for alert in near] == [("one", "other")]
    assert not of_kind("neighbours-touch", spreading("one", 60.0), spreading("other", 90.0))


def test_neighbours_closer_than_is_safe_today_are_told_until_they_are_about_to_touch():
    """Acropora keep 5 cm (`nature/genera`): 1.5 cm is surely too close, 4.9 cm may just do, and kin may touch."""
    (close,) = of_kind("too-close", spreading("one", 60.0, 0.5), spreading("other", 70.6, 0.5))
    assert close.subject == ("one", "other")
    assert close.facts["safe"] == Quantity(5.0, "cm", "length")
    assert not of_kind("too-close", spreading("one", 60.0, 0.5), spreading("other", 74.0, 0.5))
    assert not of_kind("too-close", spreading("one", 60.0, line="kin"), spreading("other", 70.6, line="kin"))
    assert not of_kind("too-close", spreading("one", 60.0), spreading("other", 72.8)), "they touch soon: told as that"


def test_a_pair_dismissed_as_too_close_comes_back_when_it_lacks_half_as_much_again():
    def close(x: float, on: int = TODAY) -> Alert:
        return of_kind("too-close", spreading("one", 60.0, 0.5), spreading("other", x, 0.5), on=on)[0]

    at = datetime.combine(day(TODAY), datetime.min.time(), UTC)
    dismissed = Dismissal(source=here(), at=at, alert=close(72.6).id, reason="They have stood so for years.")
    assert close(72.5).is_hidden_by(dismissed)
    assert not close(70.6).is_hidden_by(dismissed)


def test_a_coral_at_the_edge_of_its_place_is_told_with_the_edge():
    (alert,) = of_kind("outgrows-place", spreading("one", 6.5))
    assert alert.facts["edge"] == ("edge", "left")


def test_a_step_up_lasts_until_a_week_after_its_last_step():
    places = {"dim": place(0, 0, 40, 40, light=par(100)), "bright": place(50, 0, 40, 40, light=par(150))}
    moved = coral("one", placements=(placed(0, place="dim"), placed(390, place="bright")))
    (alert,) = of_kind("light-step-up", moved, **places)
    # From 100 to 150 PAR by at most 15 % a week takes three steps; the second begins on day 397.
    assert (alert.facts["step"], alert.facts["steps"]) == (2, 3)
    assert of_kind("light-step-up", moved, on=410, **places)
    assert not of_kind("light-step-up", moved, on=411, **places)


def test_lines_on_one_thread_come_in_the_order_of_how_hard_they_are_to_replace():
    given = spreading("given", 30.0, line="given")
    kept = coral("kept", placements=(placed(),), line="kept")
    told = [alert for alert in found(given, kept) if alert.kind == "line-at-risk"]
    assert len(told) == 2
    assert [alert.stake for alert in told] == sorted((alert.stake for alert in told), reverse=True)
    assert all(alert.facts["side"] == "piece" for alert in told)


def seen(at: int, what: str, **more) -> Health:
    return Health(source=here(), at=day(at), what=what, **more)


def test_a_bleached_coral_is_told_of_until_it_has_recovered():
    pale = seen(390, "bleaching")
    (told,) = of_kind("ailing", spreading("one", health=(pale,)))
    assert (told.subject, told.facts["side"], told.urgency) == (("one",), "bleaching", "act")
    assert not of_kind("ailing", spreading("one", health=(pale, seen(395, "recovery"))))
    assert not of_kind("ailing", spreading("one", health=(seen(390, "bleaching", until=day(395)),)))
    assert not of_kind("ailing", spreading("one", health=(seen(200, "bleaching"),))), "nobody looks after it so long"


def test_tissue_loss_comes_before_bleaching_of_the_same_coral():
    (told,) = of_kind("ailing", spreading("one", health=(seen(390, "tissue-loss"), seen(395, "bleaching"))))
    assert told.facts["side"] == "tissue-loss"


def test_nobody_is_told_to_cut_a_bleached_coral_to_save_its_line():
    (sound,) = of_kind("line-at-risk", spreading("one"))
    (bleached,) = of_kind("line-at-risk", spreading("one", health=(seen(390, "bleaching"),)))
    (losing,) = of_kind("line-at-risk", spreading("one", health=(seen(390, "tissue-loss"),)))
    assert [each.facts["side"] for each in (sound, bleached, losing)] == ["piece", "bleached", "piece"]


def test_a_line_waits_for_its_coral_no_longer_than_its_keeper_is_asked_to_look_after_it():
    long_ago, ended = seen(200, "bleaching"), seen(390, "bleaching", until=day(395))
    told = [
        each for health in (long_ago, ended) for each in of_kind("line-at-risk", spreading("one", health=(health,)))
    ]
    assert [each.facts["side"] for each in told] == ["piece", "piece"]


def test_a_bleached_coral_that_is_in_no_water_is_told_of_all_the_same():
    adrift = spreading("one", health=(seen(390, "bleaching"),), placements=())
    (told,), (line,) = of_kind("ailing", adrift), of_kind("line-at-risk", adrift)
    assert (told.system, line.system, line.facts["side"]) == ("", "", "bleached")
