"""Per partner: what went, what came, what is owed."""

from datetime import date

from hypothesis import given
from hypothesis import strategies as st
from msgspec.structs import replace

from generator.reckon.trade.offers import accounts
from generator.records.coral import Coral, End
from tests.reckon.trade.deals import AT, coral, gave, got, money, owed, trade

TODAY = date(2026, 6, 1)


def test_pieces_are_counted_each_and_a_whole_colony_as_one():
    deal = trade("2026-03-01", gave=(gave("a", 3), gave("b", whole=True)), received=(got("c"), got("d")))
    account = accounts([deal], (), TODAY)["marta"]
    assert (account.pieces_given, account.pieces_received, account.pieces) == (4, 2, 2)
    assert account.unpriced == 4


def test_what_they_still_owe_in_worth_is_given_less_received_and_less_what_they_paid():
    deal = trade("2026-03-01", gave=(gave("a", 2, "80 EUR"),), received=(got("c", "30 EUR"),), was_paid=money("20 EUR"))
    (worth,) = accounts([deal], (), TODAY)["marta"].worth
    assert (worth.currency, worth.balance) == ("EUR", 30.0)


def test_a_sale_that_was_paid_is_even():
    deal = trade("2026-03-01", gave=(gave("a", 1, "40 EUR"),), was_paid=money("40 EUR"))
    assert accounts([deal], (), TODAY)["marta"].worth[0].balance == 0.0


def test_currencies_are_never_mixed():
    deal = trade("2026-03-01", gave=(gave("a", 1, "40 EUR"), gave("b", 1, "30 USD")), paid=money("5 USD"))
    assert [(w.currency, w.balance) for w in accounts([deal], (), TODAY)["marta"].worth] == [
        ("EUR", 40.0),
        ("USD", 35.0),
    ]


@given(st.lists(st.integers(0, 10_000), min_size=1, max_size=20))
def test_no_cent_is_lost_however_many_trades(cents: list[int]):
    deals = [
        trade("2026-03-01", gave=(gave("a", 1, f"{c / 100:.2f} EUR"),), was_paid=money(f"{c / 100:.2f} EUR"))
        for c in cents
    ]
    assert accounts(deals, (), TODAY)["marta"].worth[0].balance == 0.0


def test_what_one_keeper_has_the_other_lacks():
    ours = trade("2026-03-01", "marta", gave=(gave("a", 2, "80 EUR"),), received=(got("c", "30 EUR"),))
    theirs = trade(
        "2026-03-01", "ines", gave=(gave("c", 1, "30 EUR"),), received=(got("a", "40 EUR"), got("a-2", "40 EUR"))
    )
    one, other = accounts([ours], (), TODAY)["marta"], accounts([theirs], (), TODAY)["ines"]
    assert one.pieces == -other.pieces
    assert one.worth[0].balance == -other.worth[0].balance


def test_promises_past_their_day_are_overdue_and_the_longest_stands_first():
    deal = trade(
        "2026-03-01",
        gave=(gave("a"),),
        owed=(
            owed("them", "a cutting"),
            owed("them", "a frag of ember", due="2026-05-31"),
            owed("us", "a plug", due="2026-04-01"),
            owed("us", "a rack", due="2026-06-01"),
            owed("them", "kept", due="2026-04-01", settled="2026-04-02"),
        ),
    )
    account = accounts([deal], (), TODAY)["marta"]
    assert [debt.what for debt in account.owed] == ["a plug", "a frag of ember", "a rack", "a cutting"]
    assert [(debt.what, debt.days_left) for debt in account.overdue] == [("a plug", -61), ("a frag of ember", -1)]


def test_a_promise_settled_later_was_still_owed_then():
    deal = trade("2026-03-01", owed=(owed("us", "a plug", settled="2026-07-01"),))
    assert len(accounts([deal], (), TODAY)["marta"].owed) == 1


def test_trades_to_come_do_not_count_yet():
    assert accounts([trade("2026-07-01", gave=(gave("a"),))], (), TODAY) == {}


def test_a_coral_that_came_or_went_counts_once_whether_a_trade_names_it_or_not():
    deal = trade("2026-03-01", received=(got("a", "20 EUR"),), gave=(gave("b", whole=True), gave("d")))
    here = [
        came("a", "2026-03-01"),
        came("c", "2026-04-01"),
        came("later", "2026-06-02"),
        coral("own"),
        coral("b", end=ended("2026-03-01", "given")),
        coral("d", end=ended("2026-03-01", "given", trade=deal.id)),
        coral("e", end=ended("2026-05-01", "sold")),
    ]
    account = accounts([deal], here, TODAY)["marta"]
    assert (account.pieces_received, account.pieces_given) == (2, 3)
    assert account.unpriced == 4, "b, c, d and e have no agreed value"
    assert account.last == date(2026, 5, 1)


def test_a_gift_makes_an_account_though_nothing_was_traded():
    account = accounts([], [came("c", "2026-04-01")], TODAY)["marta"]
    assert (account.pieces, account.last, account.worth) == (-1, date(2026, 4, 1), ())


def came(id: str, at: str) -> Coral:
    here = coral(id, came=at)
    return replace(here, arrival=replace(here.arrival, partner="marta"))


def ended(at: str, how: str, trade: str | None = None) -> End:
    return End(source=AT, at=date.fromisoformat(at), how=how, partner="marta", trade=trade)
