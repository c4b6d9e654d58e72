"""The catalogue of words: complete for what reckoning answers, and free of keys that hide another."""

import ast
import re
import string
import typing
from collections import Counter
from collections.abc import Iterator
from functools import cache
from pathlib import Path

import pytest
import yaml

from generator.nature.methods import METHODS
from generator.reckon.attention.alert import TRAITS
from generator.records.coral import Arrival, Coral, End, Health
from generator.records.log import ALERTS_ABOUT, AlertKind, EventKind
from generator.records.settings import Settings
from generator.render.base.words import MissingWord, Words, words_of
from generator.units.kinds import WATER_KINDS
from tests.modules import MODULES, nodes

ROOT = Path(__file__).parents[2]
CATALOGUES = sorted((ROOT / "templates" / "words").glob("*.yaml"))
T = words_of("en")


@cache
def _shown_rooms() -> set[Path]:
    """The rooms of reckoning whose findings some page shows: those that rendering imports."""
    imported = re.compile(r"from generator\.reckon\.(\w+)")
    names = {
        name for path in (ROOT / "generator" / "render").rglob("*.py") for name in imported.findall(path.read_text())
    }
    rooms = {ROOT / "generator" / "reckon" / name for name in names}
    return {room for room in rooms if room.is_dir()}


def _ids(call: str, place: int) -> set[str]:
    """Every text given to a class of findings at a place, in the rooms that pages show."""
    found = set()
    for path in (path for path in MODULES if _shown_rooms() & {*path.parents}):
        for node in nodes(path):
            named = isinstance(node, ast.Call) and isinstance(node.func, ast.Name) and node.func.id == call
            if named and len(node.args) > place and isinstance(node.args[place], ast.Constant):
                found.add(node.args[place].value)
    return found


def test_whatever_cannot_be_told_has_words_and_so_has_its_remedy() -> None:
    assert _ids("CannotTell", 0)
    assert [why for why in _ids("CannotTell", 0) if not T.has(f"cannot.{why}")] == []
    assert [remedy for remedy in _ids("CannotTell", 1) if not T.has(f"remedies.{remedy}")] == []


def test_nothing_has_words_that_no_finding_says() -> None:
    said = {id for path in MODULES for id in re.findall(r"(?<=[\"'.])[\w-]+(?=[\"'])", path.read_text())}
    for part in ("cannot", "remedies", "causes"):
        assert T.entries[part]
        assert T.entries[part].keys() - said == set()


def test_every_cause_of_uncertainty_has_words() -> None:
    assert _ids("UncertaintyPart", 0)
    assert [cause for cause in _ids("UncertaintyPart", 0) if not T.has(f"causes.{cause}")] == []


@pytest.mark.parametrize("kind", typing.get_args(AlertKind))
def test_every_kind_of_alert_has_its_stake_its_method_and_its_words(kind: AlertKind) -> None:
    assert TRAITS[kind].method in METHODS
    assert kind in ALERTS_ABOUT
    assert T.has(f"alerts.{kind}.title")
    assert T.has(f"alerts.{kind}.reason")
    assert T.has(f"alerts.{kind}.size")


def test_every_choice_a_keeper_has_has_words() -> None:
    def choices(record: type, field: str) -> tuple[str, ...]:
        hint = typing.get_type_hints(record, include_extras=False)[field]
        return typing.get_args(hint)

    for kind in WATER_KINDS:
        assert T.has(f"quantities.{kind}")
        assert T.has(f"quantities_within.{kind}")
    for section, offered in (
        ("events", typing.get_args(EventKind)),
        ("arrivals", choices(Arrival, "how")),
        ("ends", choices(End, "how")),
        ("health", choices(Health, "what")),
        ("forms", choices(Coral, "form")),
    ):
        assert offered
        assert [choice for choice in offered if not T.has(f"{section}.{choice}")] == []


def test_every_key_a_template_names_has_words() -> None:
    for path in (ROOT / "templates").rglob("*.html"):
        for key in re.findall(r"\bt\(['\"]([\w.-]+)['\"]", path.read_text()):
            assert T.has(key), f"{path.name}: {key}"


def test_every_key_the_pages_name_has_words() -> None:
    for path in (ROOT / "generator" / "render").rglob("*.py"):
        for key in re.findall(r"\bwords\(\s*\"([\w.-]+)\"", path.read_text()):
            assert T.has(key), f"{path.name}: {key}"


def _keys_named() -> Iterator[str]:
    """Patterns of all keys that the code or a template may name; what stands in braces can be anything."""
    for path in MODULES:
        for node in nodes(path):
            if isinstance(node, ast.Constant) and isinstance(node.value, str):
                yield re.escape(node.value)
            if isinstance(node, ast.JoinedStr):
                parts = [re.escape(part.value) if isinstance(part, ast.Constant) else ".+" for part in node.values]
                yield "".join(parts)
            if isinstance(node, ast.Call) and isinstance(node.func, ast.Name) and node.func.id == "page":
                # A page's title and description are those of its kind.
                kind = node.args[1]
                yield rf"{kind.value}\.(title|description)" if isinstance(kind, ast.Constant) else ""
    for path in (path for path in (ROOT / "templates").rglob("*") if path.suffix in (".html", ".xml")):
        for key in re.findall(r"['\"]([\w.-]+)['\"]", path.read_text()):
            yield re.escape(key) + (".+" if key.endswith(".") else "")


def test_no_words_are_kept_that_nothing_says() -> None:
    named = re.compile("|".join({key for key in _keys_named() if re.match(r"[a-z_]+\\.", key)}))
    # Units are looked up by their symbols, which are in no one's code.
    keys = [key for key in _flat(T.entries) if not key.startswith("units.")]
    # A number chooses between the forms of its words, so that the code names what is above them.
    by_number = re.compile(r"\.(one|other)$")
    assert [key for key in keys if not named.fullmatch(key) and not named.fullmatch(by_number.sub("", key))] == []


@pytest.mark.parametrize("path", CATALOGUES, ids=lambda path: path.stem)
def test_no_key_is_given_twice(path: Path) -> None:
    def walk(node: yaml.Node, above: str) -> None:
        if isinstance(node, yaml.MappingNode):
            names = Counter(key.value for key, _ in node.value)
            assert [f"{above}{name}" for name, times in names.items() if times > 1] == []
            for key, value in node.value:
                walk(value, f"{above}{key.value}.")

    walk(yaml.compose(path.read_text(), yaml.CSafeLoader), "")


def _flat(node: object, above: str = "") -> dict[str, str]:
    if not isinstance(node, dict):
        return {above.removesuffix("."): str(node)}
    return {key: words for name, below in node.items() for key, words in _flat(below, f"{above}{name}.").items()}


def _blanks(words: str) -> set[str]:
    return {blank for _, blank, _, _ in string.Formatter().parse(words) if blank is not None}


@pytest.mark.parametrize("path", [path for path in CATALOGUES if path.stem != "en"], ids=lambda path: path.stem)
def test_every_language_says_all_that_english_says_and_fills_the_same_blanks(path: Path) -> None:
    english, other = _flat(T.entries), _flat(words_of(path.stem).entries)
    assert sorted(english.keys() - other.keys()) == []
    assert sorted(other.keys() - english.keys()) == []
    assert [key for key in english if _blanks(english[key]) != _blanks(other[key])] == []


def test_a_keeper_may_choose_every_language_there_is() -> None:
    assert set(typing.get_args(typing.get_type_hints(Settings)["language"])) == {path.stem for path in CATALOGUES}


def test_a_missing_word_or_an_unfilled_blank_is_an_error() -> None:
    words = Words("xx", {"a": "{n} tanks", "b": {"one": "a tank", "other": "{n} tanks"}, "units": {}})
    assert words("a", n=3) == "3 tanks"
    assert [words("b", n=n) for n in (0, 1, 2)] == ["0 tanks", "a tank", "2 tanks"]
    with pytest.raises(MissingWord, match=r"no words for 'c\.d'"):
        words("c.d")
    with pytest.raises(MissingWord, match="blank"):
        words("a")
    with pytest.raises(MissingWord):
        words("b")


def test_a_keepers_braces_are_not_taken_for_blanks() -> None:
    assert words_of("en")("site.kept_by", keeper="{n}") == "Kept by {n}"


@pytest.mark.parametrize("catalogue", CATALOGUES, ids=lambda path: path.stem)
def test_a_name_that_ends_in_a_full_stop_ends_its_sentence_with_one(catalogue: Path) -> None:
    words, name = words_of(catalogue.stem), "Pocillopora sp."

    def told(entry: object, key: str) -> Iterator[str]:
        if isinstance(entry, dict):
            for part, inside in entry.items():
                yield from told(inside, f"{key}.{part}" if key else part)
        elif isinstance(entry, str) and "}." in entry:
            blanks = {blank for _, blank, _, _ in string.Formatter().parse(entry) if blank}
            yield Words(words.language, {"each": entry})("each", **dict.fromkeys(blanks, name))

    every = list(told(words.entries, ""))
    assert len(every) > 100
    assert not [said for said in every if ".." in said]
