"""What is ready to offer, and which rules the other corals fail, with each rule's threshold and the finding."""

from generator.reckon.trade.offers import Check, Offer, Rule, rules
from generator.records.coral import Coral
from generator.render.base.blocks import Group, Paragraph, Section, facts, group, section
from generator.render.base.context import PageContext, page, section_crumb
from generator.render.base.inline import Inline, Span, code, joined, small
from generator.render.base.page import Page
from generator.render.base.why import to_method
from generator.render.pages.room import say_days
from generator.units.quantity import Quantity


def offers_page(ctx: PageContext) -> Page:
    """The page: others see what is ready and marked to be offered, the keeper every living coral."""
    words, own = ctx.words, ctx.view.audience == "own"
    found = [offer for offer in ctx.found.offers if offer.coral in ctx.view.corals]
    ready = [offer for offer in found if offer.ready and offer.marked]
    return page(
        ctx,
        "offers",
        "trades",
        Paragraph(words("cautions.cites"), "caution"),
        section(words("offers.ready"), _cards(ctx, ready) or Paragraph(words("offers.none"))),
        section(
            words("offers.rules.title"),
            facts(*(_rule(ctx, rule) for rule in rules(ctx.view.settings.offers))),
            lead=words("offers.rules.lead") if own else "",
            method=to_method(ctx, "ready-to-offer"),
        ),
        section(
            words("offers.unmarked"),
            _cards(ctx, [offer for offer in found if own and offer.ready and not offer.marked]),
            lead=words("offers.unmarked_lead"),
        ),
        section(words("offers.held"), _cards(ctx, [offer for offer in found if own and not offer.ready])),
        crumbs=(section_crumb(ctx, "trades"),),
        lead=words("offers.lead", n=len(ready)),
    )


def _cards(ctx: PageContext, found: list[Offer]) -> Group:
    """Each coral with its rules."""
    return group("offers", *(_card(ctx, offer, ctx.view.corals[offer.coral]) for offer in found))


def _card(ctx: PageContext, offer: Offer, coral: Coral) -> Section:
    marked = small(ctx.words("offers.marked")) if offer.marked and not offer.ready else ""
    title = joined(ctx.to_coral(coral.id), Span(coral.species, "i"), marked)
    # Of one that is held only what holds it is of interest.
    checks = [check for check in offer.checks if offer.ready or not check.passes]
    return section(title, facts(*(_check(ctx, check, coral) for check in checks)), look="offer")


def _rule(ctx: PageContext, rule: Rule) -> tuple[str, Inline]:
    """What a rule asks, where that stands, and for the keeper how to change it."""
    words = ctx.words
    asked = rule.unit or rule.threshold
    written = ctx.view.settings.offers.length if ctx.view.settings.offers else None
    least = _amount(ctx, rule, rule.threshold, written)
    asks = words(f"offers.rules.{rule.id}.asks", least=least, n=round(rule.threshold))
    own = (code(rule.key) if rule.key else "", code(rule.source or words("offers.usual")))
    asks = asks if asked else words("offers.not_asked")
    return words(f"offers.rules.{rule.id}.name"), joined(asks, *(own if ctx.view.audience == "own" else ()))


def _amount(ctx: PageContext, rule: Rule, value: float, written: Quantity | None = None) -> str:
    """An amount in the rule's unit; a length has the digits it was written with."""
    if rule.unit == "cm":
        return ctx.say.canonical("length", value, written) if written else ctx.say.length(value, fine=True)
    return ctx.words(f"offers.{'days' if rule.unit == 'days' else 'others'}", n=round(value))


def _check(ctx: PageContext, check: Check, coral: Coral) -> tuple[str, Inline]:
    """A coral and one rule: what was found, and whether it passes."""
    words, rule = ctx.words, check.rule
    # The count of corals left of a line may include some that this audience does not see.
    counts = bool(rule.unit) and (rule.id != "corals-left" or ctx.view.audience == "own")
    # A rule that is off always passes, and the finding is shown unchanged.
    so = check.passes if rule.unit else bool(check.found)
    written = next((size.length for size in coral.sizes if size.source in check.inputs), None)
    found = _amount(ctx, rule, check.found, written) if counts and check.found is not None else ""
    if found and check.by and check.by.likely:
        likely, interval = say_days(ctx, check.by)
        found = words("offers.long_enough", length=found, day=likely, interval=interval)
    verdict = Span(words("offers.passes" if check.passes else "offers.fails"), look="unseen")
    sources = sorted(check.inputs)[:2] if ctx.view.audience == "own" and not check.passes else ()
    said = joined(
        found or words(f"offers.rules.{rule.id}.{'passes' if so else 'fails'}"),
        verdict,
        *(code(source) for source in sources if ctx.view.tells(source)),
    )
    return words(f"offers.rules.{rule.id}.name"), Span(said, look="passes" if check.passes else "fails")
