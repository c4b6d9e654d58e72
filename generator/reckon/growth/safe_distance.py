"""How far from its neighbours a coral must stand, so that none stings the other."""

from collections.abc import Mapping
from dataclasses import dataclass

from generator.nature.genera import SAFE_GAPS, genus_of
from generator.reckon.growth.forecast import accepted_genus
from generator.records.coral import Coral
from generator.units.quantity import Quantity


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
    known = genus_of(genus)
    of_group = SAFE_GAPS.groups[known.group] if known else SAFE_GAPS.unknown
    return SafeDistance(SAFE_GAPS.genera.get(genus, of_group), SAFE_GAPS.source)


def gap_between(one: SafeDistance, other: SafeDistance) -> SafeDistance:
    """The gap (cm) two neighbours need: that of the one which reaches farther."""
    return max(one, other, key=lambda distance: distance.cm)
