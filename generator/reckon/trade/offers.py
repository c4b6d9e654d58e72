"""What is ready to offer, by which rules a coral fails; and what each partner received and gave, and what is owed."""

from collections import Counter
from collections.abc import Collection, Iterable, Mapping, Sequence
from datetime import date
from typing import Literal

from msgspec import Struct
from msgspec.structs import replace

from generator.door.door import grouped
from generator.reckon.growth.forecast import Dates, Spread, long_enough
from generator.reckon.growth.health import health_state
from generator.records.coral import Coral, as_counted
from generator.records.fields import Money
from generator.records.settings import Offers
from generator.records.source import Source
from generator.records.trade import Owed, Trade
from generator.units.quantity import InUnit, Quantity

METHOD = "ready-to-offer"

RuleId = Literal["out-of-quarantine", "well", "healed", "here-for", "length", "corals-left", "line-safe"]


class Rule(Struct, frozen=True):
    """One rule: what it asks, the least that passes, and its line in journal.yaml (None: the usual threshold).

    `key` is its name under `offers` in journal.yaml. A yes-or-no rule has no unit: 1 is yes, 0 turns it off.
    """

    id: RuleId
    key: str
    unit: str
    threshold: float
    source: Source | None = None


class Check(Struct, frozen=True):
    """A coral and one rule. `found` is in the rule's unit; None if nothing is recorded that could tell.

    `by` is the range of days by which it will pass, if its growth ahead tells.
    """

    rule: Rule
    found: float | None
    passes: bool
    inputs: tuple[Source, ...] = ()
    by: Dates | None = None


class Offer(Struct, frozen=True):
    """A living coral and its checks; `marked` if its keeper offers it."""

    coral: str
    marked: bool
    checks: tuple[Check, ...]
    method: str = METHOD

    @property
    def ready(self) -> bool:
        """Whether it meets every rule."""
        return all(check.passes for check in self.checks)


# Common practice, no source: two weeks to heal and encrust, a month here without trouble, the size of a thumb,
# and one coral of its line that stays.
_USUAL = (
    Rule("out-of-quarantine", "out_of_quarantine", "", 1.0),
    Rule("well", "well", "", 1.0),
    Rule("healed", "healed_for", "days", 14.0),
    Rule("here-for", "here_for", "days", 30.0),
    Rule("length", "length", "cm", 3.0),
    Rule("corals-left", "corals_left", "1", 1.0),
    Rule("line-safe", "line_safe", "", 1.0),
)


def rules(written: Offers | None = None) -> tuple[Rule, ...]:
    """The rules in order, with the keeper's thresholds from journal.yaml if there are any."""
    return tuple(_with_theirs(rule, written) for rule in _USUAL)


def _with_theirs(rule: Rule, written: Offers | None) -> Rule:
    theirs: Quantity | int | None = getattr(written, rule.key) if written else None
    if written is None or theirs is None:
        return rule
    least = float(theirs) if isinstance(theirs, int) else theirs.canonical() / (24.0 if rule.unit == "days" else 1.0)
    return replace(rule, threshold=least, source=written.source)


def offers(
    corals: Mapping[str, Coral],
    as_of: date,
    written: Offers | None = None,
    at_risk: Collection[str] = (),
    spreads: Mapping[str, Spread] | None = None,
) -> tuple[Offer, ...]:
    """Every coral that lives here on a day, against every rule; the marked first, then by id.

    `at_risk` names lines that one loss would end, `spreads` how corals spread from here on.
    """
    living = [coral for coral in corals.values() if coral.lives_on(as_of)]
    asked, growing, lines = rules(written), spreads or {}, grouped((coral.line, coral) for coral in living)

    def check(rule: Rule, coral: Coral) -> Check:
        return _ahead(_check(rule, coral, corals, lines, as_of, at_risk), growing.get(coral.id), as_of)

    found = [Offer(coral.id, coral.to_offer, tuple(check(rule, coral) for rule in asked)) for coral in living]
    return tuple(sorted(found, key=lambda offer: (not offer.marked, as_counted(offer.coral))))


def _ahead(check: Check, spread: Spread | None, as_of: date) -> Check:
    """The check with a forecast of the days by which a short coral will be long enough, if nothing is cut."""
    if check.rule.id != "length" or check.passes or spread is None or spread.cut_since:
        return check
    return replace(check, by=long_enough(spread, check.rule.threshold, as_of))


def _check(
    rule: Rule,
    coral: Coral,
    corals: Mapping[str, Coral],
    lines: Mapping[str, Sequence[Coral]],
    as_of: date,
    at_risk: Collection[str],
) -> Check:
    if rule.id in ("out-of-quarantine", "well"):
        return _health(rule, coral, as_of)
    if rule.id == "healed":
        return _healed(rule, coral, corals, as_of)
    if rule.id == "here-for":
        days = float((as_of - coral.arrival.at).days)
        return Check(rule, days, days >= rule.threshold, (coral.arrival.source,))
    if rule.id == "length":
        sizes = [size for size in coral.sizes if size.at <= as_of]
        last = max(sizes, key=lambda size: size.at, default=None)
        if last is None:
            return Check(rule, None, False)
        length = last.length.canonical()
        return Check(rule, length, length >= rule.threshold, (last.source,))
    stay = [each for each in lines[coral.line] if each is not coral]
    found = float(len(stay)) if rule.id == "corals-left" else float(coral.line not in at_risk)
    return Check(rule, found, found >= rule.threshold, tuple(each.source for each in stay))


def _health(rule: Rule, coral: Coral, as_of: date) -> Check:
    state = health_state(coral, as_of)
    if rule.id == "out-of-quarantine":
        held = [state.quarantine] if state.quarantine else []
    else:
        held = [*state.treatments, *state.ailing]
    found = 0.0 if held else 1.0
    return Check(rule, found, found >= rule.threshold, tuple(health.source for health in held))


def _healed(rule: Rule, coral: Coral, corals: Mapping[str, Coral], as_of: date) -> Check:
    """By the days since it was last cut, or cut from its parent. A recorded healed day decides."""
    mother = corals.get(coral.parent or "")
    cut = [cutting for cutting in coral.cuttings if cutting.at <= as_of]
    if mother is not None:
        cut += [cutting for cutting in mother.cuttings if coral.id in cutting.into and cutting.at <= as_of]
    days = [(as_of - cutting.at).days for cutting in cut]
    if coral.arrival.how in ("cutting", "broken-off"):
        days.append((as_of - coral.arrival.at).days)
    if not days:
        return Check(rule, None, True)
    last = min(days)
    fresh = [cutting for cutting in cut if (as_of - cutting.at).days == last]
    written = any(cutting.healed is not None and cutting.healed <= as_of for cutting in fresh)
    inputs = tuple(cutting.source for cutting in fresh) or (coral.arrival.source,)
    return Check(rule, float(last), written or last >= rule.threshold, inputs)


METHOD_OF_ACCOUNTS = "accounts"
_CENTS = 100


class WorthBalance(Struct, frozen=True):
    """Agreed worth in one currency. `balance` is what they still owe us in it; negative, what we owe them."""

    currency: str
    given: float
    received: float
    paid: float
    was_paid: float

    @property
    def balance(self) -> InUnit:
        """Given less received, plus what we paid less what we were paid."""
        cents = round((self.given - self.received + self.paid - self.was_paid) * _CENTS)
        return cents / _CENTS


class Debt(Struct, frozen=True):
    """A promise not yet kept: who owes what, since which trade; `days_left` to its due date, negative when overdue."""

    trade: str
    by: Literal["us", "them"]
    what: str
    coral: str | None
    worth: Money | None
    due: date | None
    days_left: int | None
    source: Source

    @property
    def overdue(self) -> bool:
        """Whether its due date is past."""
        return self.days_left is not None and self.days_left < 0


class PartnerAccount(Struct, frozen=True):
    """One partner's account. `pieces_…` count corals and frags, `unpriced` those without an agreed worth."""

    partner: str
    last: date
    pieces_given: int
    pieces_received: int
    worth: tuple[WorthBalance, ...]
    unpriced: int
    owed: tuple[Debt, ...]
    method: str

    @property
    def pieces(self) -> int:
        """Pieces given less pieces received."""
        return self.pieces_given - self.pieces_received

    @property
    def overdue(self) -> tuple[Debt, ...]:
        """What is owed past its due date, the longest first."""
        return tuple(debt for debt in self.owed if debt.overdue)


def accounts(trades: Iterable[Trade], corals: Iterable[Coral], as_of: date) -> dict[str, PartnerAccount]:
    """Each partner's account on a day, in order of id. A partner who gave and got nothing has none.

    A coral that came from a partner, or went to one, counts though it has no trade. If it has one, that tells.
    """
    made = sorted((trade for trade in trades if trade.at <= as_of), key=lambda trade: (trade.at, trade.id))
    by_partner = grouped((trade.partner, trade) for trade in made)
    named = {got.coral for trade in made for got in trade.received}
    whole = {given.coral for trade in made for given in trade.gave if given.whole}
    ids = {trade.id for trade in made}
    came, went = dict[str, list[date]](), dict[str, list[date]]()
    for coral in corals:
        arrival, end = coral.arrival, coral.end
        if arrival.partner and arrival.at <= as_of and coral.id not in named and arrival.trade not in ids:
            came.setdefault(arrival.partner, []).append(arrival.at)
        if end and end.partner and end.at <= as_of and coral.id not in whole and end.trade not in ids:
            went.setdefault(end.partner, []).append(end.at)
    return {
        partner: _account(partner, by_partner.get(partner, ()), came.get(partner, ()), went.get(partner, ()), as_of)
        for partner in sorted(by_partner.keys() | came.keys() | went.keys())
    }


def _account(
    partner: str, trades: Sequence[Trade], came: Sequence[date], went: Sequence[date], as_of: date
) -> PartnerAccount:
    """The account by the trades, and the days on which corals came and went that no trade names."""
    gave = [given for trade in trades for given in trade.gave]
    received = [got for trade in trades for got in trade.received]
    priceless = sum(item.worth is None for item in gave) + sum(item.worth is None for item in received)
    return PartnerAccount(
        partner=partner,
        last=max((*(trade.at for trade in trades), *came, *went)),
        pieces_given=sum(1 if given.whole else given.frags for given in gave) + len(went),
        pieces_received=len(received) + len(came),
        worth=worth_of(trades),
        unpriced=priceless + len(came) + len(went),
        owed=_debts(trades, as_of),
        method=METHOD_OF_ACCOUNTS,
    )


def worth_of(trades: Sequence[Trade]) -> tuple[WorthBalance, ...]:
    """The worth agreed in a trade, and money, each currency separately. Nothing is converted."""
    sums: dict[str, Counter[str]] = {}

    def add(side: str, money: Money | None) -> None:
        if money is not None:
            # In whole cents, so that ten times 0.10 is one.
            sums.setdefault(money.currency, Counter())[side] += round(money.amount * _CENTS)

    for trade in trades:
        for given in trade.gave:
            add("given", given.worth)
        for got in trade.received:
            add("received", got.worth)
        add("paid", trade.paid)
        add("was_paid", trade.was_paid)
    return tuple(
        WorthBalance(currency, *(side[name] / _CENTS for name in ("given", "received", "paid", "was_paid")))
        for currency, side in sorted(sums.items())
    )


def _debts(trades: Sequence[Trade], as_of: date) -> tuple[Debt, ...]:
    debts = [
        _debt(trade, owed, as_of)
        for trade in trades
        for owed in trade.owed
        if owed.settled is None or owed.settled > as_of
    ]
    return tuple(sorted(debts, key=lambda debt: (debt.due or date.max, debt.trade, debt.what)))


def _debt(trade: Trade, owed: Owed, as_of: date) -> Debt:
    days_left = (owed.due - as_of).days if owed.due else None
    return Debt(trade.id, owed.by, owed.what, owed.coral, owed.worth, owed.due, days_left, owed.source)
