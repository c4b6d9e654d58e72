"""How far from its neighbours a coral must stand, so that none stings the other."""

from collections.abc import Mapping
from dataclasses import dataclass

from generator.reckon.growth.forecast import accepted_genus
from generator.records.coral import Coral
from generator.records.taxa import Group, genus_of
from generator.units.quantity import Quantity

SOURCE = "common practice, no source"

# Gap in cm between the outlines of two colonies, by the one that reaches farther; common practice, no source.
BY_GENUS: dict[str, float] = {
    "Acanthastrea": 8.0,
    "Catalaphyllia": 15.0,
    "Cynarina": 8.0,
    "Dipsastraea": 10.0,
    "Echinophyllia": 10.0,
    "Echinopora": 10.0,
    "Euphyllia": 15.0,
    "Favites": 10.0,
    "Fimbriaphyllia": 15.0,
    "Galaxea": 20.0,
    "Goniastrea": 10.0,
    "Goniopora": 10.0,
    "Heliofungia": 15.0,
    "Hydnophora": 15.0,
    "Lobophyllia": 8.0,
    "Micromussa": 8.0,
    "Millepora": 8.0,
    "Mycedium": 10.0,
    "Oxypora": 10.0,
    "Pectinia": 12.0,
    "Physogyra": 12.0,
    "Platygyra": 10.0,
    "Plerogyra": 15.0,
    "Pseudocorynactis": 15.0,
}
BY_GROUP: dict[Group, float] = {
    "stony": 5.0,
    "hydrocoral": 8.0,
    "blue coral": 5.0,
    "organ-pipe": 5.0,
    "soft": 8.0,
    "gorgonian": 5.0,
    "zoanthid": 5.0,
    "mushroom": 5.0,
}
UNKNOWN = 8.0


@dataclass(frozen=True, slots=True)
class SafeDistance:
    """A gap (cm) to keep, and where it comes from: the coral's own file, the journal's settings, or the usual."""

    cm: float
    known: str


def safe_distance(coral: Coral, own: Mapping[str, Quantity]) -> SafeDistance:
    """The gap (cm) a coral needs; `own` are the journal's distances by genus, in lower case."""
    if coral.stings is not None:
        return SafeDistance(coral.stings.canonical(), "declared for the coral")
    return distance_of(accepted_genus(coral.species), own)


def distance_of(genus: str, own: Mapping[str, Quantity]) -> SafeDistance:
    """The gap (cm) a genus needs: the one declared for the journal, else the usual one."""
    if (declared := own.get(genus.casefold())) is not None:
        return SafeDistance(declared.canonical(), "declared for the journal")
    return usual_distance(genus)


def usual_distance(genus: str) -> SafeDistance:
    """The usual gap (cm) for a genus: its own, else its group's, else a careful one."""
    if genus in BY_GENUS:
        return SafeDistance(BY_GENUS[genus], SOURCE)
    known = genus_of(genus)
    return SafeDistance(BY_GROUP[known.group] if known else UNKNOWN, SOURCE)


def gap_between(one: SafeDistance, other: SafeDistance) -> SafeDistance:
    """The gap (cm) two neighbours need: that of the one which reaches farther."""
    return max(one, other, key=lambda distance: distance.cm)
