"""The gallery of corals, by system, and by line where there are many."""

from collections.abc import Callable, Iterable, Iterator, Sequence
from itertools import chain
from typing import TypeVar

from generator.door.door import grouped
from generator.records.coral import Coral, Placement, as_counted
from generator.render.base import links
from generator.render.base.blocks import Block, CoralRow, Drawn, Paragraph, Section, folded, row, section
from generator.render.base.context import PageContext, as_file, page
from generator.render.base.links import Link, joined, small
from generator.render.base.page import Page

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
