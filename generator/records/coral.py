"""corals/<id>.yaml: a coral, where it came from, its sizes, places and health."""

import re
from collections.abc import Iterable
from datetime import date
from math import pi
from typing import Annotated, Any, Literal, TypeVar

from msgspec import Struct
from msgspec.structs import replace

from generator.records import fields
from generator.records.source import FromFile, Source
from generator.units.quantity import SquareCm

# A name's letters and the number after them.
_COUNTED = re.compile(r"(\D+|)(\d{0,9})")


def as_counted(name: str) -> tuple[tuple[str, int], ...]:
    """A key that puts names in order as one counts: Ash Weir 2 stands before Ash Weir 14."""
    return tuple((letters.casefold(), int(number or 0)) for letters, number in _COUNTED.findall(name))


Form = Literal[
    "branching", "tabling", "corymbose", "digitate", "massive", "encrusting", "plating", "columnar", "solitary"
]
Audience = Literal["public", "partners", "own"]
# CITES source codes, Resolution Conf. 12.3.
SourceCode = Literal["W", "R", "D", "A", "C", "F", "I", "O", "U", "X"]
Appendix = Literal["I", "II", "III"]

_COLOUR = re.compile(r"[B-E][1-6]")


def _colour(value: Any) -> str:
    if isinstance(value, str) and _COLOUR.fullmatch(value.strip().upper()):
        return value.strip().upper()
    raise fields.mistake("colour", f"'{value}' is not a colour of the Coral Health Chart", "write for example D4")


ColourScore = Annotated[
    str, fields.WrittenAs(_colour, {"type": "string", "pattern": f"^{_COLOUR.pattern}$", "examples": ["D4"]})
]

Place = TypeVar("Place")


def is_here(day: date, came: date, gone: date | None) -> bool:
    """Whether what came and went is here on a day; on the day it went it is not."""
    return came <= day and (gone is None or gone > day)


def place_on(day: date, came: date, gone: date | None, places: Iterable[tuple[date, Place]]) -> Place | None:
    """The newest of dated places on a day; None while it is not here, or if it has no place yet."""
    past = [place for place in places if place[0] <= day] if is_here(day, came, gone) else []
    return max(past, key=lambda place: place[0])[1] if past else None


class Arrival(FromFile, frozen=True, kw_only=True):
    """How the coral came here. A frag cut here has `how: cutting` and a `parent`."""

    source: Source
    at: fields.Day
    how: Literal["cutting", "trade", "gift", "bought", "collected", "broken-off", "settled", "unknown"]
    partner: fields.Id | None = None
    trade: fields.Id | None = None
    note: fields.Text | None = None


class Origin(FromFile, frozen=True, kw_only=True):
    """Where the line was collected or first grown, and its permit.

    CITES source code and Appendix are those on the permit. Neither is ever inferred.
    """

    source: Source
    region: fields.Name | None = None
    year: fields.Year | None = None
    permit: fields.Name | None = None
    source_code: SourceCode | None = None
    appendix: Appendix | None = None


class Ancestor(FromFile, frozen=True, kw_only=True):
    """A coral this one descends from. `here` is its id if it is also in this journal."""

    source: Source
    identity: fields.Text
    name: fields.Name
    keeper: fields.Name
    here: fields.Id | None = None


class Provenance(FromFile, frozen=True, kw_only=True):
    """The record of origin a coral came with.

    `file` is the record in received/, unchanged. `record` is the digest of the coral's own record in it.
    `identity` names the animal in every journal that ever held it. The nearest ancestor comes first.
    """

    source: Source
    file: fields.Text
    record: fields.Text
    identity: fields.Text
    ancestors: tuple[Ancestor, ...] = ()


class Placement(FromFile, frozen=True, kw_only=True):
    """Where the coral is from this day on. x and y are its centre, from the front left corner of the place."""

    source: Source
    since: fields.Day
    system: fields.Id
    place: fields.Id | None = None
    x: fields.Length | None = None
    y: fields.Length | None = None
    light: fields.Light | None = None


class Size(FromFile, frozen=True, kw_only=True):
    """Length and width, both seen from above, and height on a day."""

    source: Source
    at: fields.Day
    length: fields.Side
    width: fields.Side | None = None
    height: fields.Side | None = None

    @property
    def footprint(self) -> SquareCm:
        """Area (cm²) of the ellipse that the colony covers, seen from above; a circle if only its length is known."""
        return pi / 4.0 * self.length.canonical() * (self.width or self.length).canonical()


class Touch(FromFile, frozen=True, kw_only=True):
    """The day on which the coral was first seen to touch a neighbour, another coral of this journal."""

    source: Source
    at: fields.Day
    coral: fields.Id


class Weighing(FromFile, frozen=True, kw_only=True):
    """A mass on a day: in air (drained) or in water (buoyant), with or without its holder.

    `holder` is the mass of plug, tile or rock, weighed the same way, if `mass` includes it. `resolution`
    is the smallest step of the scale. `repeats` is how much repeated weighings of one coral differ
    (standard deviation), if the keeper tried it.
    """

    source: Source
    at: fields.Day
    mass: fields.Mass
    resolution: fields.ScaleStep
    repeats: fields.ScaleStep | None = None
    in_water: fields.Flag = False
    holder: fields.Mass | None = None
    salinity: fields.Salinity | None = None
    temperature: fields.Temperature | None = None


class Cutting(FromFile, frozen=True, kw_only=True):
    """Frags cut on a day. `into` lists the frags that have coral files of their own."""

    source: Source
    at: fields.Day
    frags: fields.Count
    mass: fields.Mass | None = None
    into: tuple[fields.Id, ...] = ()
    healed: fields.Day | None = None
    note: fields.Text | None = None


class Health(FromFile, frozen=True, kw_only=True):
    """What was seen or done on a day, or from a day until another (quarantine, treatment).

    `colour` is the score on the Coral Health Chart (Siebeck et al. 2006), such as D4: hue, and brightness
    from 1 (bleached) to 6.
    """

    source: Source
    at: fields.Day
    what: Literal["well", "quarantine", "inspection", "treatment", "tissue-loss", "bleaching", "recovery", "breakage"]
    until: fields.Day | None = None
    extent: fields.Text | None = None
    colour: ColourScore | None = None
    note: fields.Text | None = None


class End(FromFile, frozen=True, kw_only=True):
    """The coral is no longer here."""

    source: Source
    at: fields.Day
    how: Literal["died", "given", "sold", "lost", "merged"]
    cause: fields.Text | None = None
    partner: fields.Id | None = None
    trade: fields.Id | None = None


class Photo(FromFile, frozen=True, kw_only=True):
    """A picture in photos/, with a description (`alt`) for those who cannot see it; "" if there is none.

    `best`: the keeper's choice for the page of its year.
    """

    source: Source
    file: fields.Text
    alt: fields.Words = ""
    at: fields.Day | None = None
    credit: fields.Text | None = None
    best: bool = False
    audience: Audience = "public"


class Coral(FromFile, frozen=True, kw_only=True):
    """corals/<id>.yaml, with its story from <id>.md.

    A `line` is everything cut from one origin. `stings` is how far its tentacles reach, if the keeper
    has measured it. `to_offer`: partners may ask for a frag.
    """

    source: Source
    id: fields.Id
    name: fields.Name
    species: fields.Name
    line: fields.Id
    form: Form
    parent: fields.Id | None = None
    arrival: Arrival
    origin: Origin | None = None
    provenance: Provenance | None = None
    placements: tuple[Placement, ...] = ()
    sizes: tuple[Size, ...] = ()
    touches: tuple[Touch, ...] = ()
    weighings: tuple[Weighing, ...] = ()
    cuttings: tuple[Cutting, ...] = ()
    health: tuple[Health, ...] = ()
    end: End | None = None
    photos: tuple[Photo, ...] = ()
    to_offer: fields.Flag = False
    stings: fields.Length | None = None
    audience: Audience = "public"
    private: fields.Text | None = None
    story: str = ""

    @property
    def story_source(self) -> Source:
        """Where the first line of its story stands."""
        return Source(self.source.file.removesuffix(".yaml") + ".md")

    def lives_on(self, day: date) -> bool:
        """Whether the coral is here on a day."""
        return is_here(day, self.arrival.at, self.end.at if self.end else None)

    def placement_on(self, day: date) -> Placement | None:
        """Its place on a day; None if it is not here, or no place is recorded."""
        places = ((placement.since, placement) for placement in self.placements)
        return place_on(day, self.arrival.at, self.end.at if self.end else None, places)

    @property
    def breakages(self) -> tuple[Health, ...]:
        """When it broke."""
        return tuple(each for each in self.health if each.what == "breakage")

    @property
    def made_smaller(self) -> tuple[date, ...]:
        """The days on which it was cut or broke."""
        return *(each.at for each in self.cuttings), *(each.at for each in self.breakages)

    def measured_until(self, day: date) -> list[Size]:
        """Its sizes up to a day, in order of time."""
        return sorted((size for size in self.sizes if size.at <= day), key=lambda size: size.at)


def without_later_measures(coral: Coral, day: date) -> Coral:
    """A coral without what was measured of it after a day, if anything was until then."""
    sizes = tuple(size for size in coral.sizes if size.at <= day) or coral.sizes
    weighings = tuple(weighing for weighing in coral.weighings if weighing.at <= day) or coral.weighings
    whole = len(sizes) == len(coral.sizes) and len(weighings) == len(coral.weighings)
    return coral if whole else replace(coral, sizes=sizes, weighings=weighings)


def life_of(coral: Coral) -> Coral:
    """A coral without what is measured, seen or noted of it: most that is written later changes nothing of this."""
    life = replace(coral, sizes=(), weighings=(), health=(), touches=(), photos=(), story="")
    return by_file(life, "placements", "cuttings")


def by_file(coral: Coral, *parts: str) -> Coral:
    """A coral with parts that name their file alone: what is written above them moves their lines, and nothing else."""
    instead: dict[str, Any] = {}
    for part in parts:
        instead[part] = tuple(replace(each, source=coral.source) for each in getattr(coral, part))
    return replace(coral, **instead)


def standing_in(corals: Iterable[Coral], system: str, day: date) -> list[Coral]:
    """The corals in a system on a day, by the places that are recorded."""
    return [coral for coral in corals if (on := coral.placement_on(day)) and on.system == system]


class Statement(Struct, frozen=True):
    """One statement about a record of origin: the id of its words, and the facts that fill them."""

    id: str
    facts: tuple[tuple[str, str], ...] = ()


class Verdict(Struct, frozen=True):
    """What is proven of a record of origin, what is only claimed, and the checks that fail (`faults`).

    Without faults the claims may still be false: a keeper can sign anything. `refused` is the reason if it was refused.
    """

    digest: str = ""
    proven: tuple[Statement, ...] = ()
    claimed: tuple[Statement, ...] = ()
    faults: tuple[Statement, ...] = ()
    refused: str = ""
