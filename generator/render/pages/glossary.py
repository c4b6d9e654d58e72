"""The words of the pages: what each means, and what files, downloads and commands call it."""

from dataclasses import dataclass

from generator.render.pages.desk import Desk

# From a word's key in the catalogue to its names in the keeper's files, in the downloads' columns or as a command.
TERMS: dict[str, tuple[str, ...]] = {
    "system": ("systems", "system"),
    "place": ("places", "place"),
    "light": ("light", "light_to", "photoperiod"),
    "flow": ("flow",),
    "colony": ("coral", "corals"),
    "frag": ("frags", "cuttings"),
    "line": ("line",),
    "arrival": ("arrival",),
    "plan": ("plans", "arrive", "sheet"),
    "quarantine": ("quarantine", "treatment"),
    "reading": ("readings",),
    "kit": ("kits", "kit", "precision"),
    "band": ("low", "high"),
    "target": ("target",),
    "uptake": ("uptake",),
    "dose": ("doses", "pumps"),
    "two_part": ("solutions",),
    "top_off": ("top_off",),
    "recorded": ("source",),
    "calculated": (),
    "forecast": (),
    "predicted": ("predict", "predicted"),
    "smallest_change": ("smallest_change",),
    "likely": ("low90", "high90"),
    "doubtful": ("flagged",),
    "check": ("checks", "condition"),
    "promise": ("owed",),
    "card": ("dismiss",),
}


@dataclass(frozen=True, slots=True)
class Term:
    """One word of the pages, its meaning in a sentence, and its names in files."""

    word: str
    meaning: str
    names: tuple[str, ...]


def glossary(desk: Desk) -> tuple[Term, ...]:
    """The table of words, in the order a keeper meets them."""
    words = desk.words
    return tuple(
        Term(words(f"glossary.terms.{id}.word"), words(f"glossary.terms.{id}.means"), names)
        for id, names in TERMS.items()
    )
