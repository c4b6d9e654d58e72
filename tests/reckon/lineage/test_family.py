from hypothesis import given, settings
from hypothesis import strategies as st

from generator.reckon.lineage.lines import families
from tests.reckon.lineage.register import day, piece, trade

NOW = day(1000)


def test_a_tree_goes_from_the_first_coral_down_to_every_cutting():
    family = families([piece("a"), piece("b", "a", at=10), piece("c", "b", at=20), piece("d", "a", at=5)], (), NOW)[
        "ember"
    ]
    assert list(family.pieces) == ["a", "d", "b", "c"]
    assert family.pieces["a"].cuttings == ("d", "b")
    assert [family.pieces[id].depth for id in "abcd"] == [0, 1, 2, 1]


def test_each_piece_is_living_given_or_lost_and_says_where_it_is():
    found = families(
        [
            piece("a"),
            piece("b", "a", ended=(100, "given"), to="mara"),
            piece("c", "a", ended=(100, "died")),
            piece("d", "a", ended=(100, "merged")),
            piece("e", "a", ended=(2000, "died")),
        ],
        (),
        NOW,
    )["ember"].pieces
    assert [found[id].fate for id in "abcde"] == ["living", "given", "lost", "merged", "living"]
    assert (found["a"].system, found["b"].system, found["b"].partner) == ("lagoon", None, "mara")


def test_pieces_given_without_a_file_of_their_own_hang_on_the_coral_they_were_cut_from():
    trades = [trade("t1", "mara", 50, gave=(("a", 3),)), trade("t2", "joren", 2000, gave=(("a", 1),))]
    given = families([piece("a")], trades, NOW)["ember"].pieces["a"].given
    assert [(each.partner, each.pieces, each.trade) for each in given] == [("mara", 3, "t1")]


def test_corals_of_later_days_do_not_count():
    assert families([piece("a"), piece("b", "a", at=2000)], (), NOW)["ember"].pieces["a"].cuttings == ()
    assert families([piece("b", at=2000)], (), NOW) == {}


def test_a_parent_nobody_has_a_file_of_makes_its_cutting_a_root():
    assert families([piece("b", "gone")], (), NOW)["ember"].pieces["b"].depth == 0
    two = families([piece("a", line="old"), piece("b", "a", line="new")], (), NOW)
    assert list(two) == ["new", "old"]
    assert two["new"].pieces["b"].depth == 0


def test_a_ring_of_parents_is_in_no_tree():
    corals = [piece("root"), piece("b", "d"), piece("c", "b"), piece("d", "c"), piece("e", "c"), piece("f", "root")]
    assert list(families(corals, (), NOW)["ember"].pieces) == ["root", "f"]
    assert not families([piece("x", "x")], (), NOW)["ember"].pieces


def test_a_line_cut_from_its_last_cutting_three_thousand_times_is_told():
    corals = [piece("c0"), *(piece(f"c{n}", f"c{n - 1}") for n in range(1, 3000))]
    family = families(corals, (), NOW)["ember"]
    assert family.pieces["c2999"].depth == 2999
    assert len(family.pieces) == 3000


@settings(max_examples=60)
@given(st.lists(st.integers(-1, 11), min_size=1, max_size=12))
def test_every_coral_stands_once_in_a_tree_or_is_below_a_ring(parents):
    corals = [piece(f"c{i}", f"c{p}" if p >= 0 else None) for i, p in enumerate(parents)]
    family = families(corals, (), NOW)["ember"]
    parent_of = {coral.id: coral.parent for coral in corals}
    assert family.pieces.keys() <= parent_of.keys()
    # What is in no tree has a parent that is in none.
    assert all(parent_of[id] and parent_of[id] not in family.pieces for id in parent_of.keys() - family.pieces.keys())
    # From each piece the way up ends at a root, in as many steps as it is deep.
    for id, found in family.pieces.items():
        assert found.depth == 0 or family.pieces[parent_of[id]].depth == found.depth - 1
