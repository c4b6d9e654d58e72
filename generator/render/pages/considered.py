"""Colonies under consideration: where each could go, what must move for it, and its uptake there."""

from collections.abc import Iterator
from dataclasses import dataclass

from generator.reckon.arrivals.considered import Considered, InWater
from generator.reckon.dosing.cautions import of_phases
from generator.reckon.finding import CannotTell
from generator.reckon.growth.places import Move, Suggestion
from generator.reckon.growth.spots import Spot
from generator.records.considered import ConsideredColony
from generator.render import links
from generator.render.numbers import NBSP, Moment, plain, say_day, say_length, say_written, with_unit
from generator.render.pages.change_foreseen import foreseen_figures
from generator.render.pages.coral_room import seen
from generator.render.pages.desk import Desk, Frame, Link, frame, section_crumb
from generator.render.pages.doses import DoseRow, caution_words, dose_rows, unmet_words
from generator.render.pages.plan import say_light
from generator.render.pages.why import Cannot, Figure, cannot, evidence


@dataclass(frozen=True, slots=True)
class MoveRow:
    """A coral that must move, and where it can go in words."""

    coral: Link
    to: str


@dataclass(frozen=True, slots=True)
class PlaceChoice:
    """A place it could go to: where in it, its light and flow, what does not fit, and what must move."""

    where: Link
    spot: str
    light: str
    misfits: tuple[str, ...]
    moves: tuple[MoveRow, ...]


@dataclass(frozen=True, slots=True)
class WaterChoice:
    """Its uptake in one system, and what that adds to the doses."""

    system: Link
    figures: tuple[Figure, ...]
    cannot: Cannot | None
    doses: tuple[DoseRow, ...]
    unmet: tuple[str, ...]
    cautions: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class ColonyShown:
    """One colony: what it is and wants, the places it could go to, the waters they are in."""

    id: str
    name: str
    species: str
    since: Moment
    size: str
    wants: str
    gap: str
    note: str
    source: str
    places: tuple[PlaceChoice, ...]
    waters: tuple[WaterChoice, ...]


@dataclass(frozen=True, slots=True)
class ConsideredPage:
    """All colonies under consideration."""

    frame: Frame
    lead: str
    colonies: tuple[ColonyShown, ...]


def considered_page(desk: Desk) -> ConsideredPage:
    """The page of the colonies this audience may see."""
    words = desk.words
    known = {found.colony.name: found for found in desk.found.considered}
    shown = [(colony, known[colony.name]) for colony in desk.view.considered if colony.name in known]
    return ConsideredPage(
        frame(
            desk,
            words("considered.title"),
            words("considered.description"),
            "corals",
            section_crumb(desk, "corals"),
        ),
        words("considered.lead"),
        tuple(_colony(desk, f"colony-{n}", *each) for n, each in enumerate(shown, start=1)),
    )


def _colony(desk: Desk, id: str, colony: ConsideredColony, found: Considered) -> ColonyShown:
    words = desk.words
    places = [place for place in found.places if seen(desk, place)]
    waters = {place.spot.system for place in places}
    return ColonyShown(
        id=id,
        name=colony.name,
        species=colony.species,
        since=say_day(desk.display, words, colony.since),
        size=_size(desk, colony),
        wants=_wants(desk, colony, found),
        gap=say_length(desk.display, words, found.wish.safe),
        note=colony.note or "",
        source=str(colony.source) if desk.view.audience == "own" else "",
        places=tuple(_place(desk, place) for place in places),
        waters=tuple(_water(desk, water) for water in found.waters if water.system in waters),
    )


def _size(desk: Desk, colony: ConsideredColony) -> str:
    """Its sides as written, its form, and its mass if it was weighed."""
    words = desk.words
    sides = [side for side in (colony.length, colony.width, colony.height) if side is not None]
    said = [f"{NBSP}×{NBSP}".join(say_written(words, side) for side in sides), words(f"forms.{colony.form}")]
    return ", ".join([*said, *([say_written(words, colony.mass)] if colony.mass else [])])


def _wants(desk: Desk, colony: ConsideredColony, found: Considered) -> str:
    words, wish = desk.words, found.wish
    ends = dict.fromkeys(plain(words, end, 0) for end in (wish.light_low, wish.light_high) if end is not None)
    light = with_unit("–".join(ends), words.unit("PAR")) if ends else words("considered.any_light")
    return f"{light}, {words(f'flows.{colony.flow}') if colony.flow else words('considered.any_flow')}"


def _place(desk: Desk, found: Suggestion) -> PlaceChoice:
    spot, place = found.spot, desk.view.systems[found.spot.system].places[found.spot.place]
    turned = f", {desk.words('considered.turned')}" if spot.turned else ""
    return PlaceChoice(
        desk.link(links.plan_of(spot.system), _at_place(desk, spot)),
        _middle(desk, spot) + turned,
        say_light(desk, place),
        tuple(_misfits(desk, found)),
        tuple(_move(desk, move) for move in found.moves),
    )


def _misfits(desk: Desk, found: Suggestion) -> Iterator[str]:
    words = desk.words
    if found.light_off:
        much = "too_bright" if found.light_off > 0 else "too_dim"
        yield words(f"considered.{much}", by=with_unit(plain(words, abs(found.light_off), 0), words.unit("PAR")))
    if found.flow_fits is False:
        yield words("considered.wrong_flow")
    if found.too_tall:
        yield words("considered.too_tall", by=say_length(desk.display, words, found.too_tall))
    if found.unplaced:
        yield words("considered.in_the_way", corals=", ".join(_name(desk, id) for id in found.unplaced))


def _name(desk: Desk, id: str) -> str:
    coral = desk.view.corals.get(id)
    return coral.name if coral else desk.words("considered.hidden")


def _move(desk: Desk, move: Move) -> MoveRow:
    if move.to is None:
        return MoveRow(desk.to_coral(move.coral), desk.words("considered.stuck"))
    return MoveRow(desk.to_coral(move.coral), f"{_at_place(desk, move.to)}, {_middle(desk, move.to)}")


def _at_place(desk: Desk, spot: Spot) -> str:
    return desk.words("corals.at_place", place=spot.place, system=desk.view.systems[spot.system].name)


def _middle(desk: Desk, spot: Spot) -> str:
    place = desk.view.systems[spot.system].places[spot.place]
    left, front = spot.x - place.x.canonical(), spot.y - place.y.canonical()
    x, y = (say_length(desk.display, desk.words, cm) for cm in (left, front))
    return desk.words("considered.middle", x=x, y=y)


def _water(desk: Desk, found: InWater) -> WaterChoice:
    system = desk.view.systems[found.system]
    told = evidence(desk.view.log_of(system.id), desk.display, desk.words)
    if isinstance(found.uptake, CannotTell):
        return WaterChoice(desk.to_system(system.id), (), cannot(desk.words, found.uptake), (), ())
    return WaterChoice(
        desk.to_system(system.id),
        tuple(foreseen_figures(desk, found.uptake, told)),
        None,
        dose_rows(desk, system, (found.added,)) if found.added else (),
        tuple(unmet_words(desk, system, found.added.unmet)) if found.added else (),
        caution_words(desk, of_phases((found.added,), system)) if found.added and found.added.doses else (),
    )
