from generator.reckon.lineage.lines import families, lines_at_risk
from tests.reckon.lineage.register import day, piece, trade

NOW = day(1000)


def at_risk(*corals, trades=()):
    return lines_at_risk(families(corals, trades, NOW), {coral.id: coral for coral in corals}, trades, NOW)


def test_a_line_of_one_piece_hangs_by_it():
    found = at_risk(piece("a"))[0]
    assert (found.line, found.by, found.pieces, found.system) == ("ember", "piece", ("a",), "lagoon")


def test_a_line_in_one_system_ends_with_it_however_many_pieces_it_has():
    found = at_risk(piece("a"), piece("b", "a"), piece("c", "a"))[0]
    assert (found.by, len(found.pieces)) == ("system", 3)


def test_a_line_in_two_systems_is_safe():
    assert at_risk(piece("a"), piece("b", "a", system="raceway")) == ()


def test_a_line_that_has_ended_is_no_longer_at_risk():
    assert at_risk(piece("a", ended=(5, "died"))) == ()


def test_who_got_one_or_gave_us_ours_could_give_one_back():
    found = at_risk(
        piece("a", partner="joren"),
        piece("b", "a", ended=(90, "given"), to="mara"),
        trades=(trade("t", "sefa", 50, gave=(("a", 2),)), trade("u", "mara", 10, gave=(("a", 1),))),
    )[0]
    assert [(h.partner, h.how, h.since) for h in found.holders] == [
        ("joren", "gave-us", day(0)),
        ("mara", "got-from-us", day(90)),
        ("sefa", "got-from-us", day(50)),
    ]


def test_a_trade_tells_who_gave_a_coral_that_does_not_say_so_itself():
    found = at_risk(piece("a"), trades=(trade("t", "mara", received=("a",)),))[0]
    assert [holder.partner for holder in found.holders] == ["mara"]


def test_the_hardest_to_replace_comes_first():
    found = at_risk(
        piece("held", line="held", partner="mara"),
        piece("two-1", line="two"),
        piece("two-2", "two-1", line="two"),
        piece("young", line="young", at=500),
        piece("old", line="old", at=1),
        piece("wild", line="wild", at=600, source_code="W"),
    )
    assert [each.line for each in found] == ["wild", "old", "young", "two", "held"]
