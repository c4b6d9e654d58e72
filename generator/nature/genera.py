"""Genera of living coral a keeper meets, how far its neighbours must stay, and what is usual for a form of growth.

A table to check names against, not an authority: a genus that is not in it may be valid.
"""

from difflib import get_close_matches
from typing import Literal

from msgspec import Struct

from generator.nature.constants import table
from generator.records.coral import Form
from generator.records.source import FromFile
from generator.units.quantity import Factor

Range = tuple[float, float, float]


class Shape(FromFile, frozen=True, kw_only=True):
    """The factor M of a form's surface, its height as a share of its diameter, and how its skeleton fills it.

    `thickness` (cm) is skeleton per footprint as if pressed to a slab with its pores; `fill` the share of the canopy
    that it fills. One of the two is given. Ranges are low, typical, high.
    """

    surface: float
    height: Range
    thickness: Range | None = None
    fill: Range | None = None

    def __post_init__(self) -> None:
        """Refuse a range out of order, and a skeleton told twice or not at all."""
        if (self.thickness is None) == (self.fill is None):
            raise ValueError("give either thickness or fill")
        if any(list(each) != sorted(each) for each in (self.height, self.thickness or (), self.fill or ())):
            raise ValueError("a range is low, typical, high")


class _Forms(FromFile, frozen=True, kw_only=True):
    source: str
    acropora_surface: float
    forms: dict[Form, Shape]


_USUAL = table("forms", _Forms)
SHAPES = _USUAL.forms


def surface_factor(genus: str, form: Form) -> Factor:
    """Factor M of a colony's surface: 1 flat, 2 hemispheroid, 3 lobate or branching, 4 Acropora.

    Source: EPA/600/R-12/029, table 3-2; which form counts as which is ours.
    """
    factor = SHAPES[form].surface
    return _USUAL.acropora_surface if genus == "Acropora" and factor == 3.0 else factor


Group = Literal["stony", "hydrocoral", "blue coral", "organ-pipe", "soft", "gorgonian", "zoanthid", "mushroom"]
Skeleton = Literal["aragonite", "calcite", "none"]
Caution = Literal["eyes-and-skin", "sharp-skeleton", "palytoxin", "stinging-cells", "defensive-chemicals"]


class _OfGroup(FromFile, frozen=True):
    skeleton: Skeleton
    appendix: Literal["II"] | None = None
    cautions: tuple[Caution, ...] = ()


class _OfGenus(FromFile, frozen=True):
    group: Group
    forms: tuple[Form, ...] = ()
    formerly: tuple[str, ...] = ()
    cautions: tuple[Caution, ...] = ()


class _Genera(FromFile, frozen=True):
    source: str
    groups: dict[Group, _OfGroup]
    all: tuple[Caution, ...]
    unknown: tuple[Caution, ...]
    genera: dict[str, _OfGenus]


class Genus(Struct, frozen=True):
    """An accepted genus: its group, the forms it usually grows in, and names it was known by before.

    `appendix` is the CITES Appendix for living specimens, None for groups that are in none. `skeleton` is the mineral
    of a solid skeleton. `formerly` has old names whose species, as far as keepers have them, are now in this genus.
    """

    name: str
    group: Group
    forms: tuple[Form, ...]
    formerly: tuple[str, ...]
    appendix: Literal["II"] | None
    skeleton: Skeleton
    cautions: tuple[Caution, ...]


class Gaps(FromFile, frozen=True):
    """Gaps (cm) to keep from a coral, by its genus, else by its group, else the one for what is unknown."""

    source: str
    unit: Literal["cm"]
    genera: dict[str, float]
    groups: dict[Group, float]
    unknown: float


_TABLE = table("genera", _Genera)
GENERA = {
    name: Genus(
        name,
        row.group,
        row.forms,
        row.formerly,
        _TABLE.groups[row.group].appendix,
        _TABLE.groups[row.group].skeleton,
        (*_TABLE.all, *_TABLE.groups[row.group].cautions, *row.cautions),
    )
    for name, row in _TABLE.genera.items()
}
SAFE_GAPS = table("safe_distances", Gaps)
_FORMERLY = {former: genus for genus in GENERA.values() for former in genus.formerly}


def genus_name(species: str) -> str:
    """The genus of a species' name, the first word of ``Genus species``."""
    return species.split()[0] if species.split() else ""


def genus_of(species: str) -> Genus | None:
    """The genus a species belongs to, by an accepted or a former name; None if the table has neither."""
    name = genus_name(species)
    return GENERA.get(name) or _FORMERLY.get(name)


def cautions(species: str) -> tuple[Caution, ...]:
    """Cautions for cutting or handling a species. An unknown genus counts as the most dangerous."""
    genus = genus_of(species)
    return genus.cautions if genus else (*_TABLE.all, *_TABLE.unknown)


# What to mind when a coral is only carried and set down. A choice of ours.
_TO_THE_TOUCH = frozenset[Caution]({"palytoxin", "stinging-cells"})


def cautions_to_handle(species: str) -> tuple[Caution, ...]:
    """Cautions for handling a species that is not cut."""
    return tuple(each for each in cautions(species) if each in _TO_THE_TOUCH)


def genus_meant(name: str) -> str | None:
    """The accepted genus for a former or a misspelt name; None for one that is accepted, or like none here."""
    if name in GENERA:
        return None
    known = {each.casefold(): each for each in (*GENERA, *_FORMERLY)}
    close = get_close_matches(name[:60].casefold(), known, n=1, cutoff=0.75)
    if not close:
        return None
    found = known[close[0]]
    return _FORMERLY[found].name if found in _FORMERLY else found
