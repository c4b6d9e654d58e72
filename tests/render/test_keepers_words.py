"""The words a keeper says: none that nobody would say, cards that begin with a verb, and the table of words."""

import json
import re
from collections.abc import Iterator
from pathlib import Path

import pytest

from generator.commands import COMMANDS
from generator.nature.constants import ALL
from generator.nature.methods import METHODS, method
from generator.records.coral import Arrival
from generator.records.source import Source
from generator.render.base.ties import in_brief, line_names
from generator.render.base.words import words_of
from generator.render.pages.about import TERMS
from generator.render.tables.contents import TABLES
from generator.render.tables.files import JOURNAL_KEYS
from tests.conftest import ROOT
from tests.render import sample
from tests.render.pages import texts

ENGLISH, GERMAN = words_of("en"), words_of("de")

# Words that no keeper says, and words that are another's in the table of words.
NOBODY_SAYS = re.compile(
    r"""\b(?:
        reckon\w* | fore(?:saw|see\w*) | (?:un)?told | hangs?\ (?:on|by) | hung\ in | stands?\ off | fall(?:s|ing)?\ out
        | rhythm | certainty | would\ settle | settles?\ (?:it|how) | newcomers? | demands? | consumption
        | beside\ what | put(?:ting)?\ aside | nought | lozenge | most\ likely | on\ the\ road | it\ rests\ on
        | worth\ making | what\ came\ of | takes?\ up(?!\ to) | taken\ up\ by | vouch\w*
        | the\ sea's | a\ person\ is\ called | (?:is|was|are|not|be)\ written | (?:was|were|not)\ read\b | no\ one\ loss
        | such\ futures | a\ fortnight\ ago | thereof | whence | lest
    )\b""",
    re.IGNORECASE | re.VERBOSE,
)
NIEMAND_SAGT = re.compile(
    r"\b(?:vorausgesehen\w*|vorausgesagt\w*|Gaben?\b|nicht geschrieben|wahrscheinlich zwischen|zurechn\w*|Rhythmus"
    r"|Zukünften?|beiseite\w*|ungeschrieben\w*|daran hängen|kommen zu Fall)\b"
)

# What stands in the blanks of a card's reason, as long as a real journal has it.
REALISTIC = {
    "read": "8.9 dKH",
    "at": "22 Nov 2026, 08:40",
    "after": "18 Nov 2026, 21:35",
    "before": "22 Nov 2026, 08:40",
    "end": "the band ends at 8.8 dKH",
    "name": "Saltmarsh Ember 1",
    "other": "Wet Slipway 12",
    "system": "The Waiting Room",
    "partner": "Brask & Daughter, coral growers",
    "place": "front-slope",
    "edge": "front edge",
    "par": "112 PAR",
    "safe": "10 cm",
    "leaves": "probably tomorrow, perhaps today",
    "what": "A frag of their grey branching coral",
    "names": "2 frags of Harbour Lantern and Tide Lantern",
    "standing": "overdue by 145 days",
    "who": "Harrow Quay Reef Circle or 2 more could give a frag back.",
    "quantity": "Alkalinity",
    "left": "in 3 days",
    "explained": "Either the last reading is wrong (55 in 100), or uptake rose (40 in 100).",
    "solution": "soda",
    "odds": "93",
    "amount": "45",
    "set_to": "60 mL a day",
    "gave": "12 mL a day",
    "quantity_within": "alkalinity",
    "interval": "likely 8.62 to 8.95 dKH",
    **dict.fromkeys(("likely", "earliest", "latest", "since", "due", "came", "trade"), "2026-12-12"),
    **dict.fromkeys(("days", "usual", "salts", "least", "step", "steps", "surprise", "pieces"), "14"),
}
VERBS = {
    *("Bring", "Check", "Cut", "Find", "Frag", "Keep", "Look", "Lower", "Mend", "Move", "Raise", "Remind", "Steady"),
    *("Dose", "Give", "Prepare", "Stop", "Test", "Watch"),
}


_BLANK = re.compile(r"\{\w+\}")


def _flat(node: object, above: str = "") -> Iterator[tuple[str, str]]:
    if isinstance(node, dict):
        for name, below in node.items():
            yield from _flat(below, f"{above}{name}.")
    elif isinstance(node, list):
        for number, below in enumerate(node):
            yield from _flat(below, f"{above}{number}.")
    else:
        yield above.removesuffix("."), str(node)


def _cards(part: str) -> list[tuple[str, str]]:
    return [(key, said) for key, said in _flat(ENGLISH.entries["alerts"]) if key.split(".")[1:2] == [part]]


def test_no_entry_of_the_catalogue_says_what_no_keeper_would() -> None:
    assert [(key, said) for key, said in _flat(ENGLISH.entries) if NOBODY_SAYS.search(_BLANK.sub("", said))] == []


def test_no_german_entry_says_what_no_keeper_would() -> None:
    assert [(key, said) for key, said in _flat(GERMAN.entries) if NIEMAND_SAGT.search(said)] == []


# A day in the wrong case after its preposition.
FALSCHER_FALL = re.compile(
    r"\b(?:über|für|um|durch|gegen|ohne|bis) (?:ein|einem) Tag\b|\b(?:nach|vor|seit|von|mit) (?:ein|einen) Tag\b"
)


def test_a_german_sentence_of_one_day_has_it_in_the_right_case() -> None:
    # The days of a dosing plan are filled in from an entry of their own, which is the same for all its sentences.
    one = GERMAN("dosing.days", n=1)
    filled = [(key, text.replace("{days}", one)) for key, text in _flat(GERMAN.entries["dosing"]) if "{days}" in text]
    assert len(filled) >= 5
    sentences = [*filled, *_flat(GERMAN.entries)]
    assert [(key, text) for key, text in sentences if FALSCHER_FALL.search(text)] == []


def test_how_numbers_are_made_is_said_in_the_same_words() -> None:
    told = [method(id, "en") for id in METHODS]
    said = [text for each in told for text in (each.name, each.paragraph, *each.assumptions)]
    said += [constant.name["en"] for constant in ALL]
    assert [text for text in said if NOBODY_SAYS.search(text)] == []


def _keepers_own() -> str:
    written = [path for path in (ROOT / "content").rglob("*") if path.suffix in (".md", ".yaml", ".json")]
    said = " ".join(path.read_text(encoding="utf-8") for path in written)
    return " ".join(re.sub(r"\[([^\]]*)\]\([^)]*\)", r"\1", said).split())


def test_no_page_of_the_demo_says_what_no_keeper_would(demo_site: Path) -> None:
    own = _keepers_own()
    for page in sorted(demo_site.rglob("*.html")):
        for _, text in texts(page.read_text(encoding="utf-8")):
            found = NOBODY_SAYS.search(text)
            assert not found or " ".join(text.split()) in own, (page.name, text)


@pytest.mark.parametrize(("key", "said"), _cards("reason"))
def test_a_card_gives_its_reason_in_eighteen_words(key: str, said: str) -> None:
    assert len(said.format(**REALISTIC).split()) <= 18, key


@pytest.mark.parametrize(("key", "said"), _cards("title"))
def test_a_card_begins_with_what_to_do(key: str, said: str) -> None:
    assert said.split()[0] in VERBS, key
    assert len(said.format(**REALISTIC).split()) <= 14, key


def test_whoever_could_give_a_line_back_is_named_in_few_words() -> None:
    who = "Harrow Quay Reef Circle" + ENGLISH("lines.more_holders", n=2)
    said = (ENGLISH("lines.could_return", who=who), ENGLISH("lines.nobody"), ENGLISH("lines.somebody"))
    assert all(len(each.split()) <= 18 for each in said)


def _arrived(days_ago: int) -> Arrival:
    return Arrival(source=Source("corals/any.yaml"), at=sample.ago(days_ago).date(), how="gift")


def test_a_line_is_named_after_its_first_coral_without_its_number() -> None:
    corals = [
        sample.coral(id="b", name="Grey Heron 2", line="heron", arrival=_arrived(5)),
        sample.coral(id="a", name="Grey Heron 1", line="heron", arrival=_arrived(9)),
        sample.coral(id="c", name="Favia", line="favia", arrival=_arrived(4)),
        sample.coral(id="d", name="Green Star #3", line="x1", arrival=_arrived(3)),
        sample.coral(id="e", name="Green star, no. 7", line="x2", arrival=_arrived(3)),
    ]
    assert line_names(map(in_brief, corals)) == {
        "heron": "Grey Heron",
        "favia": "Favia",
        "x1": "Green Star (x1)",
        "x2": "Green star (x2)",
    }


def _names_in_files() -> set[str]:
    """Every key a keeper may write, every folder of a journal, every column of a download, every command."""
    found = {*(path.name for path in (ROOT / "content").iterdir() if path.is_dir()), *COMMANDS, *JOURNAL_KEYS}
    for table in TABLES:
        found |= {table.name, *(column.name for column in table.columns)}

    def keys(node: object) -> None:
        if isinstance(node, dict):
            found.update(node.get("properties", {}) if isinstance(node.get("properties"), dict) else ())
            for choice in node.get("enum", ()) if isinstance(node.get("enum"), list) else ():
                found.add(str(choice))
            for below in node.values():
                keys(below)
        elif isinstance(node, list):
            for below in node:
                keys(below)

    for path in (ROOT / "content" / ".schemas").glob("*.json"):
        keys(json.loads(path.read_text(encoding="utf-8")))
    return found


def test_every_name_in_the_table_of_words_is_one_that_files_or_columns_have() -> None:
    known = _names_in_files()
    assert [(word, name) for word, names in TERMS.items() for name in names if name not in known] == []


def test_the_table_of_words_explains_every_word_it_lists() -> None:
    assert list(ENGLISH.entries["glossary"]["terms"]) == list(TERMS)
    assert all(set(term) == {"word", "means"} for term in ENGLISH.entries["glossary"]["terms"].values())
