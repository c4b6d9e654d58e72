"""The page of what is ready to offer: each coral and every rule, and what holds those that are not ready."""

from generator.reckon.trade.offers import Check, Offer, Rule, rules
from generator.records.coral import Coral
from generator.render.base.blocks import Paragraph, Table, facts, folded, group, section
from generator.render.base.context import PageContext, page, section_crumb
from generator.render.base.inline import BREAK, Inline, Span, code, joined, small
from generator.render.base.page import Page
from generator.render.base.why import to_method
from generator.render.pages.coral import gallery
from generator.render.pages.room import say_days
from generator.units.quantity import Quantity


def offers_page(ctx: PageContext) -> Page:
    """The page: others see what is ready and marked to be offered, the keeper every living coral and every rule."""
    words, writes = ctx.words, ctx.view.writes
    found = ctx.found.offers
    offered = [offer for offer in found if offer.ready and offer.marked]
    ready = [*offered, *(offer for offer in found if offer.ready and not offer.marked)]
    held = [offer for offer in found if not offer.ready]
    corals = gallery(ctx, (ctx.view.corals[offer.coral] for offer in offered))
    return page(
        ctx,
        "offers",
        "trades",
        group(
            "side-by-side",
            section(words("offers.meets"), _marks(ctx, [*ready, *held]), Paragraph(words("offers.unmarked"), "note")),
            section(words("offers.held"), _held(ctx, held)),
        )
        if writes and found
        else section(words("offers.ready"), corals or Paragraph(words("offers.none"))),
        folded(words("offers.numbers"), _met(ctx, ready)),
        folded(
            words("offers.rules.title"),
            facts(*(_rule(ctx, rule) for rule in rules(ctx.view.settings.offers))),
            lead=words("offers.rules.lead") if writes else "",
            method=to_method(ctx, "ready-to-offer"),
        ),
        Paragraph(words("cautions.cites"), "caution after"),
        crumbs=(section_crumb(ctx, "trades"),),
        lead=words("offers.lead", n=len(offered)),
    )


def _heads(ctx: PageContext, found: list[Offer]) -> tuple[str, ...]:
    return ctx.words("shares.coral"), *(
        ctx.words(f"offers.rules.{check.rule.id}.name") for each in found[:1] for check in each.checks
    )


def _marks(ctx: PageContext, found: list[Offer]) -> Table:
    """The picture: a row for each coral, those on offer first, and a mark for each rule."""
    rows: list[tuple[Inline, ...]] = []
    for each in found:
        on_offer = small(ctx.words("offers.marked")) if each.marked else ""
        marks = (
            _check(ctx, check, ctx.view.corals[each.coral])
            if check.rule.id == "length" and check.passes
            else _verdict(ctx, check, "")
            for check in each.checks
        )
        rows.append((joined(ctx.to_coral(each.coral), on_offer), *marks))
    looks = tuple("" if each.ready else "held" for each in found)
    return Table(ctx.words("offers.meets"), _heads(ctx, found), tuple(rows), "holds", looks)


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
    return ctx.words(f"offers.{'days' if rule.unit == 'days' else 'others'}", n=round(value))


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
