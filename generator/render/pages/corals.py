"""The gallery of corals, by system."""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass

from generator.records.coral import Coral
from generator.render import links
from generator.render.blocks import PhotoLink
from generator.render.inline import Link
from generator.render.page import Frame
from generator.render.pages.desk import Desk, frame


@dataclass(frozen=True, slots=True)
class CoralRow:
    """One coral in a list."""

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


@dataclass(frozen=True, slots=True)
class CoralGroup:
    """Corals that belong together: in one system, or of one line."""

    id: str
    name: str
    link: Link | None
    note: str
    corals: tuple[CoralRow, ...]


@dataclass(frozen=True, slots=True)
class CoralsPage:
    """Corals in groups, with links to the lines and to survival."""

    frame: Frame
    title: str
    lead: str
    others: tuple[Link, ...]
    groups: tuple[CoralGroup, ...]
    data: Link


def corals_page(desk: Desk) -> CoralsPage:
    """Corals by system; those no longer here last."""
    words, view = desk.words, desk.view
    groups = [
        CoralGroup(
            f"system-{id}", system.name, desk.to_system(id), words("corals.count", n=len(here)), coral_rows(desk, here)
        )
        for id, system in view.systems.items()
        if (here := desk.corals_of(id))
    ]
    placed = {row.link.href for group in groups for row in group.corals}
    rest = [c for c in view.corals.values() if desk.to_coral(c.id).href not in placed]
    elsewhere = [coral for coral in rest if coral.lives_on(desk.today)]
    gone = [coral for coral in rest if not coral.lives_on(desk.today)]
    for key, corals in (("elsewhere", elsewhere), ("gone", gone)):
        if corals:
            count = words("corals.count", n=len(corals))
            groups.append(CoralGroup(key, words(f"corals.{key}"), None, count, coral_rows(desk, corals)))
    living = sum(coral.lives_on(desk.today) for coral in view.corals.values())
    lines = len({coral.line for coral in view.corals.values()})
    return CoralsPage(
        frame(desk, words("corals.title"), words("corals.description"), "corals"),
        words("corals.title"),
        words("corals.lead", living=words("corals.count", n=living), lines=words("corals.lines", n=lines)),
        tuple(_others(desk)),
        tuple(groups),
        desk.link("data/corals.csv", words("data.tables.corals.name")),
    )


def _others(desk: Desk) -> Iterator[Link]:
    yield desk.link(links.LINES, desk.words("corals.by_line"))
    yield desk.link(links.SURVIVAL, desk.words("survival.title"))
    if desk.view.plans:
        yield desk.link(links.PLANNED, desk.words("planned.title"))


def coral_rows(desk: Desk, corals: Iterable[Coral]) -> tuple[CoralRow, ...]:
    """Corals as the gallery shows them, by name."""
    return tuple(_row(desk, coral) for coral in sorted(corals, key=lambda coral: (coral.name.casefold(), coral.id)))


def _row(desk: Desk, coral: Coral) -> CoralRow:
    photos = desk.photos(coral.photos[:1], coral.name)
    form = desk.words(f"forms.{coral.form}")
    living = coral.lives_on(desk.today)
    return CoralRow(
        link=desk.to_coral(coral.id),
        species=coral.species,
        line=desk.to_line(coral.line),
        form=coral.form,
        form_words=form,
        state=state_of(desk, coral),
        living=living,
        to_offer=living and coral.to_offer,
        photo=photos[0] if photos else None,
        find=" ".join((coral.name, coral.species, desk.to_line(coral.line).text, coral.line, form)).casefold(),
    )


def state_of(desk: Desk, coral: Coral) -> str:
    """Where the coral is today, in a few words."""
    words = desk.words
    if coral.end and coral.end.at <= desk.today:
        return words(f"ends.{coral.end.how}")
    place = coral.placement_on(desk.today)
    if place is None:
        return words("corals.nowhere") if coral.lives_on(desk.today) else words("corals.not_yet")
    system = desk.view.systems[place.system].name
    return words("corals.at_place", place=place.place, system=system) if place.place else system
