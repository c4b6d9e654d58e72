"""Checks of the genera: unknown names and former names. Always warnings, never errors."""

from collections.abc import Iterator

from generator.nature.genera import GENERA, genus_meant, genus_name, genus_of
from generator.read.draft import Draft
from generator.records.problem import Problem


def genera_unknown_or_given_up(draft: Draft) -> Iterator[Problem]:
    """A coral's genus that the table lacks or that has a new name; reported once for each genus."""
    said: set[str] = set()
    for coral in draft.of_a_species():
        name = genus_name(coral.species)
        if name in GENERA or name in said or not name.istitle():
            continue
        said.add(name)
        known, meant = genus_of(name), genus_meant(name)
        source = draft.at(coral.source, "species")
        if known:
            wrong = f"the genus {name} is now called {known.name}"
            yield Problem(source, "genus", wrong, f"write {known.name}, or ignore this", severity="warning")
        else:
            remedy = f"did you mean {meant}?" if meant else "check the spelling, or ignore this"
            yield Problem(source, "genus", f"Corallite does not know the genus {name}", remedy, severity="warning")


def safe_distances_of_no_genus(draft: Draft) -> Iterator[Problem]:
    """A safe distance in journal.yaml for a genus that neither the table nor any coral has."""
    if draft.settings is None:
        return
    known = {name.casefold() for name in GENERA}
    known |= {genus_name(coral.species).casefold() for coral in draft.of_a_species()}
    for name in draft.settings.safe_distances:
        if name not in known:
            source = draft.at(draft.settings.source, "safe_distances", name, of_key=True)
            meant = genus_meant(name)
            remedy = f"did you mean {meant.lower()}?" if meant else "write a genus in lower case, for example galaxea"
            yield Problem(source, "genus", f"there is no coral genus '{name}'", remedy, severity="warning")
