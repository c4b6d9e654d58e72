"""What pages about trades share (what was given, money, promises); and the page of what is ready to offer."""

from collections.abc import Iterator, Mapping, Sequence
from datetime import date

from msgspec.structs import replace

from generator.reckon.trade.offers import Check, Offer, PartnerAccount, Rule, WorthBalance, rules, worth_of
from generator.records.carried_out import promise_kept
from generator.records.coral import Coral, as_counted
from generator.records.fields import Money
from generator.records.settings import way_to
from generator.records.trade import Given, Owed, Received, Trade
from generator.render.base import links
from generator.render.base.blocks import CoralRow, Drawn, Paragraph, Table, facts, folded, group, section
from generator.render.base.context import PageContext, page, section_crumb
from generator.render.base.links import BREAK, Inline, Link, Phrase, Span, bold, code, joined, small
from generator.render.base.numbers import NBSP, plain
from generator.render.base.page import Page
from generator.render.base.why import to_method
from generator.render.base.words import Words
from generator.render.pages.coral import coral_row
from generator.render.pages.room import say_days
from generator.render.pages.travel import to_trade
from generator.units.quantity import Quantity

# A promise is due soon if it is due within this many days.
SOON = 30


def by_reader(ctx: PageContext, key: str) -> str:
    """The key of words that say who gave or owes: a partner's own folder speaks to that partner."""
    return f"reader.{key}" if ctx.view.partner else key


def pieces(ctx: PageContext, trade: Trade) -> tuple[tuple[str, Inline], ...]:
    """What the keeper gave in a trade, and what the keeper received, as facts."""
    words = ctx.words
    gave = [
        _piece(
            ctx,
            given.coral,
            words("trades.whole") if given.whole else words("coral.pieces", n=given.frags),
            given.worth,
        )
        for given in trade.gave
    ]
    received = [_piece(ctx, got.coral, "", got.worth) for got in trade.received]
    return tuple(
        (words(by_reader(ctx, key)), joined(*each, by=BREAK) or words("trades.nothing"))
        for key, each in (("trades.gave", gave), ("trades.received", received))
    )


def _piece(ctx: PageContext, coral: str, what: str, worth: Money | None) -> Inline:
    return joined(joined(ctx.to_coral(coral), what, by=", "), f"({say_money(ctx.words, worth)})" if worth else "")


def trade_title(ctx: PageContext, trade: Trade) -> str:
    """What a trade is called: by its partner, or by the keeper where the partner reads."""
    partner, keeper = ctx.partner(trade.partner), ctx.view.settings.keeper
    return ctx.words(by_reader(ctx, "trades.with"), partner=partner, keeper=keeper)


def say_money(words: Words, worth: Money | None) -> str:
    """An amount with its currency; "" for none."""
    return say_amount(words, worth.amount, worth.currency) if worth else ""


def say_amount(words: Words, value: float, currency: str) -> str:
    """A number of a currency."""
    return f"{plain(words, value, 2)}{NBSP}{currency}"


def promise(ctx: PageContext, trade: Trade, number: int, owed: Owed, with_trade: bool) -> Span:
    """The `number`-th promise of a trade, from 1: who owes what, until when, and whether it is kept."""
    words = ctx.words
    keeping = next((plan for plan in ctx.view.plans.values() if promise_kept(trade, plan) == number), None)
    standing, look = _standing(ctx, owed)
    until = joined(words("trades.owed.due"), Phrase((ctx.say.day(owed.due), ":"))) if owed.due else ""
    how = joined(
        joined(until, bold(standing)),
        joined(words("trades.owed.since"), to_trade(ctx, trade)) if with_trade else "",
        ctx.link(links.page_of("plan", keeping.id), words("trades.owed.plan")) if keeping else "",
        by=" · ",
    )
    worth = f"({say_money(words, owed.worth)})" if owed.worth else ""
    what = words(by_reader(ctx, f"trades.owed.{owed.by}"), what=owed.what)
    return Span(Phrase((joined(what, worth), BREAK, Span(how, look="note"))), "li", look)


def _standing(ctx: PageContext, owed: Owed) -> tuple[str, str]:
    words, today = ctx.words, ctx.today
    if owed.settled is not None:
        return words("trades.owed.settled", day=ctx.say.on(owed.settled)), "kept"
    if owed.due is None:
        return words("trades.owed.no_date"), "open"
    left = days_left(owed.due, today)
    if left < 0:
        return words("trades.owed.overdue", n=-left), "overdue"
    return words("trades.owed.today") if left == 0 else words("trades.owed.left", n=left), (
        "soon" if left <= SOON else "open"
    )


def days_left(due: date, today: date) -> int:
    """Days until a promise is due; negative when that day is past."""
    return (due - today).days


def overdue(ctx: PageContext, accounts: Sequence[PartnerAccount]) -> Inline:
    """What is owed beyond its day, and by whom."""
    words = ctx.words
    said = [
        f"{words(by_reader(ctx, f'trades.owed.{debt.by}'), what=debt.what)} ({ctx.partner(account.partner)})"
        for account in accounts
        for debt in account.overdue
    ]
    return (
        joined(Span(words("accounts.overdue", n=len(said)), look="off"), f"{'; '.join(said)}.", by=" · ")
        if said
        else ""
    )


def still_owed(ctx: PageContext, accounts: Sequence[PartnerAccount]) -> Iterator[str]:
    """How many promises each side has still to keep, and which that is not overdue is due first."""
    words, owed = ctx.words, [(account.partner, debt) for account in accounts for debt in account.owed]
    for by in ("us", "them"):
        theirs = sorted((debt.due or date.max, ctx.partner(of), debt.what) for of, debt in owed if debt.by == by)
        if ahead := [each for each in theirs if each[0] >= ctx.today]:
            due, partner, what = ahead[0]
            first = ", ".join((what, partner, *(() if due == date.max else (ctx.say.on(due),))))
            yield words(by_reader(ctx, f"trades.sum.{by}"), n=len(theirs), first=first)
    if accounts and not owed:
        yield words("trades.sum.none")


def balance(ctx: PageContext, trade: Trade) -> Iterator[tuple[str, str]]:
    """The money of a trade, and its balance where all that was given and received has a worth."""
    words = ctx.words
    for key, money in (("paid", trade.paid), ("was_paid", trade.was_paid)):
        if money:
            yield words(by_reader(ctx, f"trades.{key}")), say_money(words, money)
    if all(each.worth for each in trade.gave) and all(each.worth for each in trade.received):
        said = "; ".join(_more(ctx, worth) for worth in worth_of((trade,)))
        if said:
            yield words("trades.balance"), said


def _more(ctx: PageContext, worth: WorthBalance) -> str:
    """Who gave more than the other in one trade, in one currency."""
    amount = say_amount(ctx.words, abs(worth.balance), worth.currency)
    return ctx.words(by_reader(ctx, f"trades.more.{side_of(worth)}"), amount=amount)


def in_value(ctx: PageContext, worth: WorthBalance) -> str:
    """Who owes whom how much in one currency."""
    amount = say_amount(ctx.words, abs(worth.balance), worth.currency)
    return ctx.words(by_reader(ctx, f"accounts.worth.{side_of(worth)}"), amount=amount)


def side_of(worth: WorthBalance) -> str:
    """Who owes the other in a currency: us, them, or nobody."""
    return "even" if worth.balance == 0 else "them" if worth.balance > 0 else "us"


def offered(ctx: PageContext) -> Drawn:
    """What is ready and marked to be offered, as pictures: how long it is here, and what one of its line was agreed at.

    One without a picture has that of what it was cut from.
    """
    corals = [ctx.view.corals[offer.coral] for offer in ctx.found.offers if offer.ready and offer.marked]
    corals.sort(key=lambda coral: as_counted(coral.name))
    return Drawn("gallery", tuple(_on_offer(ctx, coral) for coral in corals))


def _on_offer(ctx: PageContext, coral: Coral) -> CoralRow:
    words, row, of = ctx.words, coral_row(ctx, coral), coral
    photo = row.photo
    while photo is None and of.parent and of.parent in ctx.view.corals:
        of = ctx.view.corals[of.parent]
        photo = next(reversed(ctx.photos(of.photos, of.name)), None)
    agreed: list[tuple[date, str]] = []
    for trade in ctx.view.trades.values():
        pieces: tuple[Given | Received, ...] = (*trade.gave, *trade.received)
        kin = (
            each for each in pieces if each.coral in ctx.view.corals and ctx.view.corals[each.coral].line == coral.line
        )
        agreed += [(trade.at, say_money(words, _of_one(each, each.worth))) for each in kin if each.worth]
    more = [
        words("gallery.here", day=ctx.say.on(coral.arrival.at)),
        *(words("gallery.worth", worth=worth, day=ctx.say.on(at)) for at, worth in sorted(agreed)[-1:]),
        *([words("gallery.photo_of", name=of.name)] if photo and of is not coral else []),
    ]
    return replace(row, photo=photo, more=tuple(more))


def _of_one(piece: Given | Received, worth: Money) -> Money:
    """What one piece was agreed at, where several went for one sum."""
    return replace(worth, amount=worth.amount / piece.frags) if isinstance(piece, Given) else worth


def contact(ctx: PageContext) -> Paragraph | None:
    """How to reach the keeper, where this audience may know."""
    settings = ctx.view.settings
    if ctx.view.writes or not settings.contact:
        return None
    return Paragraph(joined(f"{settings.keeper}:", Link(settings.contact, way_to(settings.contact))))


def offers_page(ctx: PageContext) -> Page:
    """The page: others see what is ready and marked to be offered, the keeper every living coral and every rule."""
    words, writes = ctx.words, ctx.view.writes
    found = ctx.found.offers
    ready = [offer for offer in found if offer.ready and offer.marked]
    unoffered = [offer for offer in found if offer.ready and not offer.marked]
    held = [offer for offer in found if not offer.ready]
    return page(
        ctx,
        "offers",
        "trades",
        None if writes else section(words("offers.ready"), offered(ctx) or Paragraph(words("offers.none"))),
        group(
            "side-by-side",
            section(
                words("offers.meets"),
                _marks(ctx, {"ready": ready, "unoffered": unoffered, "held": held}),
                Paragraph(words("offers.unmarked"), "note"),
            ),
            section(words("offers.held"), _held(ctx, held)),
        )
        if writes and found
        else None,
        folded(words("offers.ready"), offered(ctx)) if writes else None,
        folded(words("offers.numbers"), _met(ctx, [*ready, *unoffered])),
        folded(
            words("offers.rules.title"),
            facts(*(_rule(ctx, rule) for rule in rules(ctx.view.settings.offers))),
            lead=words("offers.rules.lead") if writes else "",
            method=to_method(ctx, "ready-to-offer"),
        ),
        contact(ctx),
        Paragraph(words("cautions.cites"), "caution after"),
        crumbs=(section_crumb(ctx, "trades"),),
        lead=words("offers.lead", n=len(ready)),
    )


def _heads(ctx: PageContext, found: list[Offer]) -> tuple[str, ...]:
    return ctx.words("shares.coral"), *(
        ctx.words(f"offers.rules.{check.rule.id}.name") for each in found[:1] for check in each.checks
    )


def _marks(ctx: PageContext, kinds: Mapping[str, list[Offer]]) -> Table:
    """The picture: a row for each coral and a mark for each rule; a row above those on offer, the ready, the others."""
    rows: list[tuple[Inline, ...]] = []
    looks: list[str] = []
    told = [each for found in kinds.values() for each in found]
    first = {found[0].coral: kind for kind, found in kinds.items() if found}
    for each in told:
        if each.coral in first:
            rows.append((bold(ctx.words(f"offers.{first[each.coral]}")), ""))
            looks.append("kind")
        looks.append("" if each.ready else "held")
        on_offer = small(ctx.words("offers.marked")) if each.marked else ""
        marks = (
            _check(ctx, check, ctx.view.corals[each.coral])
            if check.rule.id == "length" and check.passes
            else _verdict(ctx, check, "")
            for check in each.checks
        )
        rows.append((joined(ctx.to_coral(each.coral), on_offer), *marks))
    return Table(ctx.words("offers.meets"), _heads(ctx, told), tuple(rows), "holds", tuple(looks))


def _met(ctx: PageContext, found: list[Offer]) -> Table:
    """A row for each coral that is ready, a column for each rule."""
    rows: list[tuple[Inline, ...]] = []
    for each in found:
        coral = ctx.view.corals[each.coral]
        name = joined(ctx.to_coral(coral.id), small(Span(coral.species, "i")))
        rows.append((name, *(_check(ctx, check, coral) for check in each.checks)))
    return Table(ctx.words("offers.numbers"), _heads(ctx, found), tuple(rows), "tall rules")


def _held(ctx: PageContext, found: list[Offer]) -> Table:
    """A row for each coral, with the rules that hold it."""
    words = ctx.words
    rows: list[tuple[Inline, ...]] = []
    for each in found:
        failed = [check for check in each.checks if not check.passes]
        names = (small(words(f"offers.rules.{check.rule.id}.name")) for check in failed)
        said = (_check(ctx, check, ctx.view.corals[each.coral]) for check in failed)
        marked = small(words("offers.marked")) if each.marked else ""
        holds = joined(*map(joined, names, said), by=BREAK)
        rows.append((joined(ctx.to_coral(each.coral), marked), holds))
    return Table(words("offers.held"), words.each("shares.coral", "offers.holds"), tuple(rows), "held-by")


def _rule(ctx: PageContext, rule: Rule) -> tuple[str, Inline]:
    """What a rule asks, where that stands, and for the keeper how to change it."""
    words = ctx.words
    asked = rule.unit or rule.threshold
    written = ctx.view.settings.offers.length if ctx.view.settings.offers else None
    least = _amount(ctx, rule, rule.threshold, written)
    asks = words(f"offers.rules.{rule.id}.asks", least=least, n=round(rule.threshold))
    own = (code(rule.key) if rule.key else "", code(rule.source or words("offers.usual")))
    asks = asks if asked else words("offers.not_asked")
    return words(f"offers.rules.{rule.id}.name"), joined(asks, *(own if ctx.view.writes else ()))


def _amount(ctx: PageContext, rule: Rule, value: float, written: Quantity | None = None) -> str:
    """An amount in the rule's unit; a length has the digits it was written with."""
    if rule.unit == "cm":
        return ctx.say.canonical("length", value, written) if written else ctx.say.length(value, fine=True)
    if rule.unit == "days":
        return ctx.words("offers.days", n=round(value))
    return ctx.words("offers.others", n=round(value)) if round(value) else ctx.words("offers.no_other")


def _check(ctx: PageContext, check: Check, coral: Coral) -> Span:
    """A coral and one rule: whether it passes, and what was found."""
    words, rule = ctx.words, check.rule
    # A rule that is off always passes, and the finding is shown unchanged.
    so = check.passes if rule.unit else bool(check.found)
    written = next((size.length for size in coral.sizes if size.source in check.inputs), None)
    found = _amount(ctx, rule, check.found, written) if rule.unit and check.found is not None else ""
    if found and check.by and check.by.likely:
        likely, interval = say_days(ctx, check.by)
        found = words("offers.long_enough", length=found, day=likely, interval=interval)
    elif found and rule.unit == "days" and not check.passes:
        found = words("offers.least", found=found, least=_amount(ctx, rule, rule.threshold))
    sources = () if check.passes else sorted(check.inputs)[:2]
    told = "" if so else words(f"offers.rules.{rule.id}.fails")
    shown = joined(found or told, *map(code, sources))
    return _verdict(ctx, check, shown)


def _verdict(ctx: PageContext, check: Check, said: Inline) -> Span:
    """What was found beside the mark of a rule that a coral passes or fails."""
    verdict = Span(ctx.words("offers.passes" if check.passes else "offers.fails"), look="unseen")
    return Span(joined(said, verdict), look="passes" if check.passes else "fails")
