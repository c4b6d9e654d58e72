"""What is ready to offer, and which rule holds a coral back."""

from datetime import date

import pytest

from generator.reckon.growth.analysis import analyse_growth
from generator.reckon.growth.forecast import Spread, spread_of
from generator.reckon.trade.offers import Offer, offers, rules
from generator.records.settings import Offers
from generator.records.source import Source
from tests.reckon.growth.corals import coral as measured
from tests.reckon.growth.corals import cut, day, sizes
from tests.reckon.trade.deals import coral, cutting, health, q

TODAY = date(2026, 6, 1)
SISTER = coral("sister")


def of(one, *others, written: Offers | None = None, at_risk: tuple[str, ...] = ()) -> Offer:
    corals = {each.id: each for each in (one, *others)}
    return next(offer for offer in offers(corals, TODAY, written, at_risk) if offer.coral == one.id)


def failing(offer: Offer) -> list[str]:
    return [check.rule.id for check in offer.checks if not check.passes]


def test_a_grown_healthy_coral_with_a_sister_is_ready():
    assert of(coral("one"), SISTER).ready


@pytest.mark.parametrize(
    ("one", "rule"),
    [
        (coral("one", health=(health("2026-05-01", "quarantine", "2026-06-30"),)), "out-of-quarantine"),
        (coral("one", health=(health("2026-05-01", "quarantine"),)), "out-of-quarantine"),
        (coral("one", health=(health("2026-05-20", "tissue-loss"),)), "well"),
        (coral("one", cuttings=(cutting("2026-05-25"),)), "healed"),
        (coral("one", cuttings=(cutting("2026-06-01"),)), "healed"),
        (coral("one", came="2026-05-20"), "here-for"),
        (coral("one", length="2 cm"), "length"),
        (coral("one", length=None), "length"),
        (coral("one", line="only-one"), "corals-left"),
    ],
)
def test_one_rule_is_enough_to_hold_a_coral_back_and_is_named(one, rule: str):
    offer = of(one, SISTER)
    assert failing(offer) == [rule]
    check = next(check for check in offer.checks if not check.passes)
    assert check.found is None or check.found < check.rule.threshold


def test_a_quarantine_that_is_over_holds_nothing_back():
    assert of(coral("one", health=(health("2026-05-01", "quarantine", "2026-05-31"),)), SISTER).ready


def test_a_cutting_written_as_healed_need_not_wait():
    mother = coral("mother", cuttings=(cutting("2026-05-25", ("one",), healed="2026-05-31"),))
    assert failing(of(mother, SISTER)) == []
    one = coral("one", came="2026-05-25", how="cutting", parent="mother")
    assert failing(of(one, mother)) == ["here-for"]


def test_a_piece_cut_from_its_parent_today_is_fresh():
    mother = coral("mother", cuttings=(cutting("2026-06-01", ("one",)),))
    assert failing(of(coral("one", parent="mother"), mother, SISTER)) == ["healed"]


def test_a_line_that_one_loss_would_end_is_not_offered():
    assert failing(of(coral("one"), SISTER, at_risk=("lantern",))) == ["line-safe"]


def test_every_rule_is_the_keepers_to_change_by_its_own_key():
    here = Source("journal.yaml", 12)
    at_once = Offers(
        source=here,
        out_of_quarantine=False,
        well=False,
        healed_for=q("0 h", "duration"),
        here_for=q("0 h", "duration"),
        length=q("0 cm", "length"),
        corals_left=0,
        line_safe=False,
    )
    frail = coral(
        "one",
        came="2026-05-31",
        length="1 cm",
        line="alone",
        cuttings=(cutting("2026-05-31"),),
        health=(health("2026-05-31", "quarantine"), health("2026-05-31", "tissue-loss")),
    )
    assert len(failing(of(frail, at_risk=("alone",)))) == len(rules()) == 7
    assert failing(of(frail, at_risk=("alone",), written=at_once)) == []
    assert {rule.source for rule in rules(at_once)} == {here}
    assert {rule.key for rule in rules()} == {*Offers.__struct_fields__} - {"source"}


def test_the_keepers_own_thresholds_count_and_say_where_they_stand():
    written = Offers(source=Source("journal.yaml", 12), length=q("10 cm", "length"), healed_for=q("5 days", "duration"))
    offer = of(coral("one", cuttings=(cutting("2026-05-25"),)), SISTER, written=written)
    assert failing(offer) == ["length"]
    asked = {check.rule.id: check.rule for check in offer.checks}
    assert asked["length"].threshold == 10.0
    assert asked["length"].source == written.source
    assert asked["healed"].threshold == 5.0
    assert asked["here-for"].source is None


def test_the_dead_and_the_given_are_not_offered_and_the_marked_stand_first():
    marked = coral("z", to_offer=True)
    corals = {each.id: each for each in (coral("a"), marked, coral("late", came="2026-07-01"))}
    assert [offer.coral for offer in offers(corals, TODAY)] == ["z", "a"]


def test_a_coral_that_is_too_short_says_by_when_it_will_be_long_enough():
    grew = measured(id="one", line="one", sizes=sizes([0, 60, 120, 180, 240, 300], [1.6, 1.8, 2.0, 2.2, 2.4, 2.6]))
    sister = measured(id="sister", line="one", sizes=sizes([0], [5.0]))
    today, corals = day(300), {each.id: each for each in (grew, sister)}
    spread = spread_of(grew, analyse_growth(grew, {}, today))
    assert isinstance(spread, Spread)
    offer = next(each for each in offers(corals, today, spreads={"one": spread}) if each.coral == "one")
    (length,) = [check for check in offer.checks if check.rule.id == "length"]
    assert not length.passes
    assert length.by is not None
    # 4 mm are wanting, and it grows 1.2 cm a year and wanders: some four months.
    assert length.by.likely is not None
    assert 60 < (length.by.likely - today).days < 180
    assert length.by.earliest < length.by.likely < length.by.latest
    assert all(check.by is None for check in offer.checks if check.rule.id != "length")


def test_a_coral_cut_since_it_was_measured_says_no_day():
    shorter = measured(id="one", line="one", sizes=sizes([0, 100], [2.0, 2.4]), cuttings=(cut(150),))
    spread = spread_of(shorter, analyse_growth(shorter, {}, day(200)))
    assert isinstance(spread, Spread)
    (offer,) = offers({"one": shorter}, day(200), spreads={"one": spread})
    assert all(check.by is None for check in offer.checks)
