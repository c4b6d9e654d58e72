"""The gallery of corals, by system."""

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass

from generator.records.coral import Coral
from generator.render.base import links
from generator.render.base.blocks import Drawn, Paragraph, PhotoLink, Section, row, section
from generator.render.base.context import PageContext, as_file, page
from generator.render.base.inline import Link, joined, small
from generator.render.base.page import Page


@dataclass(frozen=True, slots=True)
class CoralRow:
    """One coral in the gallery."""

    link: Link
    species: str
    line: Link
    form: str
    form_words: str
    state: str
    living: bool
    to_offer: bool
    photo: PhotoLink | None
    find: str


def corals_page(ctx: PageContext) -> Page:
    """Corals by system; those no longer here last."""
    words, view = ctx.words, ctx.view
    by_system = {id: ctx.corals_of(id) for id in view.systems}
    placed = {coral.id for here in by_system.values() for coral in here}
    rest = [coral for id, coral in view.corals.items() if id not in placed]
    elsewhere = [coral for coral in rest if coral.lives_on(ctx.today)]
    gone = [coral for coral in rest if not coral.lives_on(ctx.today)]
    living = sum(coral.lives_on(ctx.today) for coral in view.corals.values())
    lines = len({coral.line for coral in view.corals.values()})
    return page(
        ctx,
        "corals",
        "corals",
        row(*_others(ctx)),
        Drawn("filter", "corals"),
        *(_group(ctx, f"system-{id}", ctx.to_system(id), here) for id, here in by_system.items()),
        _group(ctx, "elsewhere", Link(words("corals.elsewhere")), elsewhere),
        _group(ctx, "gone", Link(words("corals.gone")), gone),
        None if view.corals else Paragraph(words("corals.none")),
        as_file(ctx, "data/corals.csv", "corals"),
        lead=words("corals.lead", living=words("corals.count", n=living), lines=words("corals.lines", n=lines)),
        script="scripts/gallery.js",
    )


def _group(ctx: PageContext, id: str, name: Link, corals: Sequence[Coral]) -> Section:
    """Corals that belong together: in one system, or in none."""
    return section(joined(name, small(ctx.words("corals.count", n=len(corals)))), gallery(ctx, corals), id=id)


def _others(ctx: PageContext) -> Iterator[Link]:
    yield ctx.link(links.LINES, ctx.words("corals.by_line"))
    yield ctx.link(links.SURVIVAL, ctx.words("survival.title"))
    if ctx.view.plans:
        yield ctx.link(links.PLANNED, ctx.words("planned.title"))


def gallery(ctx: PageContext, corals: Iterable[Coral]) -> Drawn:
    """Corals as pictures with a few words, by name."""
    by_name = sorted(corals, key=lambda coral: (coral.name.casefold(), coral.id))
    return Drawn("gallery", tuple(_row(ctx, coral) for coral in by_name))


def _row(ctx: PageContext, coral: Coral) -> CoralRow:
    photos = ctx.photos(coral.photos, coral.name)
    form = ctx.words(f"forms.{coral.form}")
    living = coral.lives_on(ctx.today)
    return CoralRow(
        link=ctx.to_coral(coral.id),
        species=coral.species,
        line=ctx.to_line(coral.line),
        form=coral.form,
        form_words=form,
        state=state_of(ctx, coral),
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
    place = coral.placement_on(ctx.today)
    if place is None:
        return words("corals.nowhere") if coral.lives_on(ctx.today) else words("corals.not_yet")
    system = ctx.view.systems[place.system].name
    return words("corals.at_place", place=place.place, system=system) if place.place else system
