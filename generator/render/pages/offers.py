"""Corals as pictures, by system and by line; and what is ready to offer, with every rule for the keeper."""

from collections.abc import Callable, Iterable, Iterator, Sequence
from datetime import date
from itertools import chain
from typing import TypeVar

from msgspec.structs import replace

from generator.door.door import grouped
from generator.reckon.trade.offers import Check, Offer, Rule, rules
from generator.records.coral import Coral, Placement, as_counted
from generator.records.fields import Money
from generator.records.settings import way_to
from generator.records.trade import Given, Received
from generator.render.base import links
from generator.render.base.blocks import (
    Block,
    CoralRow,
    Drawn,
    Paragraph,
    Section,
    Table,
    facts,
    folded,
    group,
    row,
    section,
)
from generator.render.base.context import PageContext, as_file, page, section_crumb
from generator.render.base.links import BREAK, Inline, Link, Span, bold, code, joined, small
from generator.render.base.page import Page
from generator.render.base.why import to_method
from generator.render.pages.deals import say_money
from generator.render.pages.room import say_days
from generator.units.quantity import Quantity

Of = TypeVar("Of")


def corals_page(ctx: PageContext) -> Page:
    """Corals by system; those no longer here last."""
    words, view, corals = ctx.words, ctx.view, ctx.ties.corals
    by_system = {id: ctx.ids_in(id) for id in view.systems}
    placed = {*chain(*by_system.values())}
    living = {coral.id for coral in corals if coral.lives_on(ctx.today)}
    rest = [coral.id for coral in corals if coral.id not in placed]
    elsewhere, gone = [id for id in rest if id in living], [id for id in rest if id not in living]
    lines = len({coral.line for coral in corals})
    return page(
        ctx,
        "corals",
        "corals",
        row(*_others(ctx)),
        Drawn("filter", "corals"),
        *(_group(ctx, f"system-{id}", ctx.to_system(id), here) for id, here in by_system.items()),
        _group(ctx, "elsewhere", Link(words("corals.elsewhere")), elsewhere),
        _group(ctx, "gone", Link(words("corals.gone")), gone),
        None if corals else Paragraph(words("corals.none")),
        as_file(ctx, "data/corals.csv", "corals"),
        lead=words("corals.lead", living=words("corals.count", n=len(living)), lines=words("corals.lines", n=lines)),
        script="scripts/gallery.js",
    )


def _group(ctx: PageContext, id: str, name: Link, corals: Sequence[str]) -> Section:
    """Corals that belong together: in one system, or in none."""
    by_name = sorted(corals, key=lambda coral: (as_counted(ctx.ties.coral_names[coral]), coral))
    lines = {coral.id: coral.line for coral in ctx.ties.corals}

    def rows(some: Sequence[str]) -> Drawn:
        return Drawn("gallery", tuple(ctx.shared.rows[coral] for coral in some))

    told = joined(name, small(ctx.words("corals.count", n=len(corals))))
    return section(told, *by_line(ctx, by_name, lines.__getitem__, rows), id=id)


# As many corals stand one by one; of more, each line has a fold of its own. Our own choice: half a minute's scrolling.
MANY = 60


def by_line(
    ctx: PageContext, corals: Sequence[Of], line: Callable[[Of], str], draw: Callable[[Sequence[Of]], Block]
) -> Iterator[Block]:
    """Corals in one block; where they are many, those alone of their line in one, and a fold for each other line."""
    if len(corals) <= MANY:
        yield draw(corals)
        return
    every = grouped((line(each), each) for each in corals)
    yield draw([of_line[0] for of_line in every.values() if len(of_line) == 1])
    for id, of_line in sorted(every.items(), key=lambda each: as_counted(ctx.to_line(each[0]).text)):
        if len(of_line) > 1:
            count = ctx.words("corals.count", n=len(of_line))
            yield folded(joined(ctx.to_line(id).text, small(count)), draw(of_line))


def _others(ctx: PageContext) -> Iterator[Link]:
    yield ctx.link(links.LINES, ctx.words("corals.by_line"))
    yield ctx.link(links.SURVIVAL, ctx.words("survival.title"))
    if ctx.view.plans:
        yield ctx.link(links.PLANNED, ctx.words("planned.title"))


def gallery(ctx: PageContext, corals: Iterable[Coral]) -> Drawn:
    """Corals as pictures with a few words, by name."""
    by_name = sorted(corals, key=lambda coral: (as_counted(coral.name), coral.id))
    return Drawn("gallery", tuple(coral_row(ctx, coral) for coral in by_name))


def coral_row(ctx: PageContext, coral: Coral) -> CoralRow:
    """A coral as it stands in the gallery."""
    photos = ctx.photos(coral.photos, coral.name)
    form = ctx.words(f"forms.{coral.form}")
    living = coral.lives_on(ctx.today)
    length = ctx.say.written(coral.sizes[-1].length) if living and coral.to_offer and coral.sizes else ""
    return CoralRow(
        link=ctx.to_coral(coral.id),
        species=coral.species,
        line=ctx.to_line(coral.line),
        form=coral.form,
        form_words=form,
        state=" · ".join(filter(None, (state_of(ctx, coral), length))),
        living=living,
        to_offer=living and coral.to_offer,
        photo=photos[-1] if photos else None,
        find=" ".join((coral.name, coral.species, ctx.to_line(coral.line).text, coral.line, form)).casefold(),
    )


def state_of(ctx: PageContext, coral: Coral) -> str:
    """Where the coral is today, in a few words."""
    words = ctx.words
    if coral.end and coral.end.at <= ctx.today:
        return words(f"ends.{coral.end.how}")
    if place := coral.placement_on(ctx.today):
        return where_it_stands(ctx, place)
    return words("corals.nowhere") if coral.lives_on(ctx.today) else words("corals.not_yet")


def where_it_stands(ctx: PageContext, at: Placement) -> str:
    """A system, and the place in it if that is written."""
    system = ctx.view.systems[at.system].name
    return ctx.words("corals.at_place", place=at.place, system=system) if at.place else system


def offered(ctx: PageContext) -> Iterator[Block]:
    """What is ready and marked to be offered, as pictures: how long it is here, and what one of its line was agreed at.

    One without a picture has that of what it was cut from.
    """
    corals = [ctx.view.corals[offer.coral] for offer in ctx.found.offers if offer.ready and offer.marked]
    corals.sort(key=lambda coral: as_counted(coral.name))
    return by_line(
        ctx,
        corals,
        lambda coral: coral.line,
        lambda some: Drawn("gallery", tuple(_on_offer(ctx, coral) for coral in some)),
    )


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
        None
        if writes
        else section(words("offers.ready"), *offered(ctx), None if ready else Paragraph(words("offers.none"))),
        group(
            "side-by-side",
            section(
                words("offers.meets"),
                *_by_line(ctx, [*ready, *unoffered, *held], lambda some: _marks(ctx, some)),
                Paragraph(words("offers.unmarked"), "note"),
            ),
            section(words("offers.held"), *_by_line(ctx, held, lambda some: _held(ctx, some))),
        )
        if writes and found
        else None,
        folded(words("offers.ready"), *offered(ctx)) if writes else None,
        folded(words("offers.numbers"), *_by_line(ctx, [*ready, *unoffered], lambda some: _met(ctx, some))),
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


def _heads(ctx: PageContext, found: Sequence[Offer]) -> tuple[str, ...]:
    return ctx.words("shares.coral"), *(
        ctx.words(f"offers.rules.{check.rule.id}.name") for each in found[:1] for check in each.checks
    )


def _by_line(ctx: PageContext, found: Sequence[Offer], draw: Callable[[Sequence[Offer]], Block]) -> Iterator[Block]:
    return by_line(ctx, found, lambda offer: ctx.view.corals[offer.coral].line, draw)


def _kind(offer: Offer) -> str:
    return "held" if not offer.ready else "ready" if offer.marked else "unoffered"


def _marks(ctx: PageContext, told: Sequence[Offer]) -> Table:
    """The picture: a row for each coral and a mark for each rule; a row above those on offer, the ready, the others."""
    rows: list[tuple[Inline, ...]] = []
    looks: list[str] = []
    for before, each in zip((None, *told), told, strict=False):
        if before is None or _kind(before) != _kind(each):
            rows.append((bold(ctx.words(f"offers.{_kind(each)}")), ""))
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


def _met(ctx: PageContext, found: Sequence[Offer]) -> Table:
    """A row for each coral that is ready, a column for each rule."""
    rows: list[tuple[Inline, ...]] = []
    for each in found:
        coral = ctx.view.corals[each.coral]
        name = joined(ctx.to_coral(coral.id), small(Span(coral.species, "i")))
        rows.append((name, *(_check(ctx, check, coral) for check in each.checks)))
    return Table(ctx.words("offers.numbers"), _heads(ctx, found), tuple(rows), "tall rules")


def _held(ctx: PageContext, found: Sequence[Offer]) -> Table:
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
