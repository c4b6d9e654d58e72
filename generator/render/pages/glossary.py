"""The words of the pages: what each means, and what files, downloads and commands call it."""

from generator.render.blocks import Section, Table, section
from generator.render.inline import code, joined
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


def glossary(desk: Desk) -> Section:
    """The table of words, in the order a keeper meets them."""
    words = desk.words
    rows = tuple(
        (
            words(f"glossary.terms.{id}.word"),
            words(f"glossary.terms.{id}.means"),
            joined(*(code(name) for name in names), by=", "),
        )
        for id, names in TERMS.items()
    )
    heads = words.each("glossary.word", "glossary.means", "glossary.names")
    title = words("glossary.title")
    return section(title, Table(title, heads, rows, "tall"), id="words", lead=words("glossary.lead"))
