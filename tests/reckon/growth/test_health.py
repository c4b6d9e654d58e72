from generator.reckon.growth.health import health_state
from generator.records.coral import End
from tests.reckon.growth.corals import coral, day, here, noted


def test_a_quarantine_holds_from_its_first_day_to_its_last():
    kept = coral(health=(noted(0, "quarantine", until=day(30)),))
    assert health_state(kept, day(30)).quarantine is not None
    assert health_state(kept, day(31)).quarantine is None


def test_a_quarantine_without_an_end_holds_until_the_coral_is_noted_as_well():
    kept = coral(health=(noted(0, "quarantine"), noted(40, "well")))
    assert health_state(kept, day(39)).quarantine is not None
    assert health_state(kept, day(40)).quarantine is None


def test_a_coral_that_arrives_well_is_in_quarantine_all_the_same_and_no_loss_heals_on_its_day():
    for first, second in (("quarantine", "well"), ("well", "quarantine")):
        assert health_state(coral(health=(noted(0, first), noted(0, second))), day(9)).quarantine is not None
    ill = coral(health=(noted(5, "well"), noted(5, "tissue-loss"), noted(6, "treatment"), noted(6, "well")))
    assert [h.what for h in health_state(ill, day(5)).ailing] == ["tissue-loss"]
    assert health_state(ill, day(6)).ailing == ()
    # A dip is over the day it is given.
    assert health_state(ill, day(6)).treatments == ()


def test_tissue_loss_stays_until_recovery():
    ill = coral(health=(noted(5, "tissue-loss"), noted(9, "treatment", until=day(12)), noted(60, "recovery")))
    assert [h.what for h in health_state(ill, day(10)).ailing] == ["tissue-loss"]
    assert len(health_state(ill, day(10)).treatments) == 1
    assert health_state(ill, day(13)).treatments == ()
    assert health_state(ill, day(60)).ailing == ()
    assert health_state(ill, day(4)).ailing == ()


def test_a_recovery_with_an_end_is_one_from_its_end_on_and_what_it_ended_is_still_known():
    ill = coral(health=(noted(5, "tissue-loss"), noted(20, "recovery", until=day(60))))
    found = [health_state(ill, day(each)) for each in (30, 60)]
    assert [[h.what for h in state.ailing] for state in found] == [["tissue-loss"], []]
    assert [state.past and state.past.what for state in found] == [None, "tissue-loss"]


def test_two_scores_on_the_colour_chart_are_a_change_and_one_is_not():
    # Source: Siebeck et al. 2006, Coral Reefs 25:453-460: two scores or more (from memory).
    def changed(before: str, after: str) -> str:
        colour = health_state(
            coral(health=(noted(0, "well", colour=before), noted(9, "well", colour=after))), day(9)
        ).colour
        assert colour is not None
        return colour.change

    assert changed("D5", "D3") == "paled"
    assert changed("D3", "D5") == "darkened"
    assert changed("D5", "D4") == "none"
    only = health_state(coral(health=(noted(0, "well", colour="D5"),)), day(1)).colour
    assert only is not None
    assert (only.score, only.change) == ("D5", "unknown")
    assert health_state(coral(), day(1)).colour is None


def test_nothing_is_wrong_any_more_with_a_coral_that_is_gone():
    gone = coral(
        health=(noted(5, "tissue-loss"), noted(6, "quarantine")), end=End(source=here(), at=day(9), how="died")
    )
    assert health_state(gone, day(8)).ailing
    found = health_state(gone, day(9))
    assert (found.quarantine, found.ailing) == (None, ())
