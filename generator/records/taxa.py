"""Genera of living coral a keeper meets: their accepted names, group, usual growth forms and CITES Appendix.

A table to check names against, not an authority: a genus that is not here may be valid. Names are those
that the World Register of Marine Species accepts, Appendices those of CITES, both from memory.
"""

from dataclasses import dataclass
from difflib import get_close_matches
from typing import Literal, get_args

from generator.records.coral import Form

Group = Literal["stony", "hydrocoral", "blue coral", "organ-pipe", "soft", "gorgonian", "zoanthid", "mushroom"]
Skeleton = Literal["aragonite", "calcite", "none"]

SOURCE = "World Register of Marine Species, accepted names (from memory); CITES Appendices (from memory)"

# Scleractinia, Milleporidae, Helioporidae and Tubiporidae are in Appendix II; the others in none.
_APPENDIX_II: frozenset[Group] = frozenset({"stony", "hydrocoral", "blue coral", "organ-pipe"})
_SKELETON: dict[Group, Skeleton] = {
    "stony": "aragonite",
    "hydrocoral": "aragonite",
    "blue coral": "aragonite",
    "organ-pipe": "calcite",
}


@dataclass(frozen=True, slots=True)
class Genus:
    """An accepted genus: its group, the forms it usually grows in, and names it was known by before.

    `formerly` has old names whose species, as far as keepers have them, are now in this genus.
    """

    name: str
    group: Group
    forms: tuple[Form, ...] = ()
    formerly: tuple[str, ...] = ()

    @property
    def appendix(self) -> Literal["II"] | None:
        """The CITES Appendix for living specimens; None for groups that are in none."""
        return "II" if self.group in _APPENDIX_II else None

    @property
    def skeleton(self) -> Skeleton:
        """The mineral of a solid skeleton; loose spicules in soft tissue are not one."""
        return _SKELETON.get(self.group, "none")


_FORMS = get_args(Form)


def _of(group: Group, table: str) -> list[Genus]:
    """Rows of ``Name form form = Former, Former``, one a line."""
    found = []
    for row in table.strip().splitlines():
        now, _, before = row.partition("=")
        name, *forms = now.split()
        assert set(forms) <= set(_FORMS), row
        found.append(Genus(name, group, tuple(form for form in _FORMS if form in forms), tuple(before.split())))
    return found


_STONY = """
Acanthastrea encrusting massive
Acropora branching tabling corymbose digitate
Alveopora massive branching
Anacropora branching
Astrea massive encrusting
Astreopora massive encrusting
Bernardpora encrusting massive
Blastomussa branching massive
Catalaphyllia solitary massive
Caulastraea branching = Caulastrea
Coelastrea massive encrusting
Coeloseris massive
Ctenactis solitary
Cycloseris solitary encrusting = Diaseris
Cynarina solitary
Cyphastrea encrusting massive branching
Danafungia solitary
Dendrophyllia branching
Dipsastraea massive
Diploastrea massive
Duncanopsammia branching plating
Echinophyllia encrusting plating
Echinopora encrusting plating branching
Euphyllia branching massive
Favites massive encrusting
Fimbriaphyllia branching massive
Fungia solitary
Galaxea massive encrusting columnar
Gardineroseris massive encrusting
Goniastrea massive encrusting
Goniopora massive columnar encrusting
Halomitra solitary
Heliofungia solitary
Herpolitha solitary
Homophyllia solitary = Scolymia
Hydnophora branching encrusting massive
Isopora branching encrusting
Leptastrea encrusting massive
Leptoria massive
Leptoseris plating encrusting
Lithophyllon plating encrusting solitary
Lobactis solitary
Lobophyllia massive branching = Symphyllia Australomussa
Merulina plating encrusting branching
Micromussa encrusting massive
Montipora branching plating encrusting
Mycedium plating encrusting
Oulophyllia massive
Oxypora plating encrusting
Pachyseris plating encrusting
Paragoniastrea massive encrusting
Paramontastraea massive
Pavona plating columnar encrusting massive
Pectinia plating branching
Physogyra massive
Platygyra massive encrusting
Plerogyra massive branching
Pleuractis solitary
Plesiastrea massive encrusting
Pocillopora branching
Polyphyllia solitary
Porites massive branching encrusting columnar
Psammocora encrusting massive columnar
Seriatopora branching
Stylocoeniella encrusting
Stylophora branching
Trachyphyllia solitary = Wellsophyllia
Tubastraea branching massive
Turbinaria plating columnar encrusting
"""
_SOFT = """
Anthelia
Briareum encrusting = Pachyclavularia
Capnella branching
Cladiella encrusting
Clavularia encrusting
Dendronephthya branching
Litophyton branching = Nephthea
Lobophytum encrusting
Sarcophyton
Sclerophytum encrusting digitate
Sinularia branching digitate encrusting
Xenia
"""
_GORGONIAN = """
Antillogorgia branching = Pseudopterogorgia
Eunicea branching
Muricea branching
Plexaura branching
Plexaurella branching
Pseudoplexaura branching
Pterogorgia branching
"""

GENERA: dict[str, Genus] = {
    genus.name: genus
    for genus in (
        *_of("stony", _STONY),
        *_of("hydrocoral", "Millepora branching plating encrusting"),
        *_of("blue coral", "Heliopora columnar branching encrusting"),
        *_of("organ-pipe", "Tubipora massive"),
        *_of("soft", _SOFT),
        *_of("gorgonian", _GORGONIAN),
        *_of("zoanthid", "Palythoa encrusting = Protopalythoa\nParazoanthus encrusting\nZoanthus encrusting"),
        *_of("mushroom", "Discosoma = Actinodiscus\nAmplexidiscus\nRhodactis\nRicordea\nPseudocorynactis"),
    )
}
_FORMERLY = {former: genus for genus in GENERA.values() for former in genus.formerly}


def genus_name(species: str) -> str:
    """The genus of a species' name, the first word of ``Genus species``."""
    return species.split()[0] if species.split() else ""


def genus_of(species: str) -> Genus | None:
    """The genus a species belongs to, by an accepted or a former name; None if the table has neither."""
    name = genus_name(species)
    return GENERA.get(name) or _FORMERLY.get(name)


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
