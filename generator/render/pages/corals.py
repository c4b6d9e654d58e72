"""The two plain lists of corals: by system, and by line."""

from collections.abc import Iterable
from dataclasses import dataclass

from generator.records.coral import Coral
from generator.render import links
from generator.render.pages.desk import Desk, Frame, Link, frame, section_crumb


@dataclass(frozen=True, slots=True)
class CoralRow:
    """One coral in a list."""

    link: Link
    species: str
    line: str
    state: str
    living: bool


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
    """Corals in groups, with the way to the other grouping."""

    frame: Frame
    title: str
    lead: str
    other: Link
    groups: tuple[CoralGroup, ...]
    data: Link


def corals_page(desk: Desk) -> CoralsPage:
    """Corals by the system they stand in; those no longer here last."""
    words, view = desk.words, desk.view
    groups = [
        CoralGroup(
            f"system-{id}", system.name, desk.to_system(id), words("corals.count", n=len(here)), _rows(desk, here)
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
            groups.append(CoralGroup(key, words(f"corals.{key}"), None, count, _rows(desk, corals)))
    living = sum(coral.lives_on(desk.today) for coral in view.corals.values())
    lines = len({coral.line for coral in view.corals.values()})
    return CoralsPage(
        frame(desk, words("corals.title"), words("corals.description"), "corals"),
        words("corals.title"),
        words("corals.lead", living=words("corals.count", n=living), lines=words("corals.lines", n=lines)),
        desk.link(links.LINES, words("corals.by_line")),
        tuple(groups),
        desk.link("data/corals.csv", words("data.tables.corals.name")),
    )


def lines_page(desk: Desk) -> CoralsPage:
    """Corals by line."""
    words = desk.words
    by_line: dict[str, list[Coral]] = {}
    for coral in desk.view.corals.values():
        by_line.setdefault(coral.line, []).append(coral)
    groups = tuple(
        CoralGroup(line, line, None, _living(desk, corals), _rows(desk, corals))
        for line, corals in sorted(by_line.items())
    )
    return CoralsPage(
        frame(desk, words("lines.title"), words("lines.description"), "corals", section_crumb(desk, "corals")),
        words("lines.title"),
        words("lines.lead", n=len(groups)),
        desk.link(links.CORALS, words("corals.by_system")),
        groups,
        desk.link("data/corals.csv", words("data.tables.corals.name")),
    )


def _living(desk: Desk, corals: Iterable[Coral]) -> str:
    return desk.words("lines.living", n=sum(coral.lives_on(desk.today) for coral in corals))


def _rows(desk: Desk, corals: Iterable[Coral]) -> tuple[CoralRow, ...]:
    return tuple(
        CoralRow(
            desk.to_coral(coral.id),
            coral.species,
            coral.line,
            state_of(desk, coral),
            coral.lives_on(desk.today),
        )
        for coral in sorted(corals, key=lambda coral: (coral.name.casefold(), coral.id))
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
