"""Messages, help and docs speak the trade's words of today; the dialect that once was in them cannot come back.

The words and what each means: the table in DEVELOPERS.md.
"""

import argparse
import ast
import io
import json
import re
import tokenize
from collections.abc import Iterator
from pathlib import Path

import pytest

from generator.commands import COMMANDS
from generator.commands.options import parser_of
from tests.conftest import ROOT
from tests.modules import nodes
from tests.read.test_mistakes import MISTAKES
from tests.read.test_slips import SLIPS

ROOMS = ("commands", "exchange", "publish", "read", "records", "units")
# What was heard read aloud and failed -> what to say instead.
BANNED = {
    r"reckon(s|ed|ing)?": "calculated",
    r"fore(see[ns]?|saw|seeing)": "predicted",
    r"told": "recorded, or says",
    r"mends?": "correct",
    r"demands?": "uptake",
    r"consumption": "uptake",
    r"taken? up of": "uptake of",
    r"pieces?": "frag",
    r"newcomer's table": "the colony",
    r"vessels?": "tank or container",
    r"strays?": "standard deviation",
    r"stands? (in|among|behind|outside|between|after|below)": "is in",
    r"begins? (with|here)": "starts with",
    r"wanting": "missing",
    r"hangs? (by|on)": "depends on",
    r"by whom": "who",
    r"beside what": "with",
    r"nought": "zero",
    r"less than nothing": "negative",
    r"no less than": "as large as",
    r"(?<!there )is no(?! longer\b| more\b| less\b)": "is not a",
    r"are no": "are not",
    r"look at (the|its|this)": "check",
    r"take (it|the line) out": "delete",
    r"for your own eyes": "private",
    r"of (it|them) by itself": "by itself",
}
REMARK = tokenize.COMMENT
DIALECT = re.compile(rf"\b({'|'.join(BANNED)})\b", re.IGNORECASE)


def text_of(node: ast.AST) -> str:
    """A string as a reader meets it, with `…` for what is filled in; "" for what is no string."""
    if isinstance(node, ast.Constant) and isinstance(node.value, str):
        return node.value
    if isinstance(node, ast.JoinedStr):
        return "".join(text_of(part) or "…" for part in node.values)
    return ""


def sentences(path: Path) -> Iterator[str]:
    """Every string of a module that has more than one word, and its remarks."""
    text = path.read_text(encoding="utf-8")
    within = {id(part) for node in nodes(path) if isinstance(node, ast.JoinedStr) for part in node.values}
    for node in nodes(path):
        if id(node) not in within and " " in (said := text_of(node)).strip():
            yield re.sub(r"`[^`]*`|^(tuple|list|dict)\[.*", "", said)  # names, and annotations in quotes
    yield from (token.string for token in tokenize.generate_tokens(io.StringIO(text).readline) if token.type == REMARK)


def help_text(command: str) -> str:
    parser = parser_of([command])
    (chosen,) = (each for each in parser._actions if isinstance(each, argparse._SubParsersAction))
    return parser.format_help() + chosen.choices[command].format_help()


def schema_texts(value: object) -> Iterator[str]:
    if isinstance(value, dict):
        yield from (text for key, text in value.items() if key == "description" and isinstance(text, str))
        for inner in value.values():
            yield from schema_texts(inner)
    elif isinstance(value, list):
        for inner in value:
            yield from schema_texts(inner)


def prose(markdown: str) -> str:
    """Markdown without its code, whose names are not words."""
    return re.sub(r"`[^`]*`", "", re.sub(r"^```.*?^```", "", markdown, flags=re.MULTILINE | re.DOTALL))


def comments(path: Path) -> str:
    return "\n".join(re.findall(r"(?:^|\s)#\s(.*)", path.read_text(encoding="utf-8")))


def said() -> Iterator[tuple[str, str]]:
    """Everything that is said to a person in English outside the site, by where it is said."""
    for mistake in (*MISTAKES, *SLIPS):
        yield mistake.name, "\n".join(re.sub(r"'[^']*'|\"[^\"]*\"", "…", line) for line in mistake.expected)
    for command in COMMANDS:
        yield f"corallite {command} --help", help_text(command)
    for room in ROOMS:
        for path in sorted((ROOT / "generator" / room).glob("*.py")):
            yield f"{room}/{path.name}", "\n".join(sentences(path))
    for path in sorted((ROOT / "content/.schemas").glob("*.json")):
        yield path.name, "\n".join(schema_texts(json.loads(path.read_text(encoding="utf-8"))))
    for path in sorted((ROOT / "content").rglob("*.yaml")):
        yield str(path.relative_to(ROOT)), comments(path)
    for name in ("README.md", "DEVELOPERS.md"):
        yield name, prose((ROOT / name).read_text(encoding="utf-8"))


# The table of words itself names what they replace, and the house's rooms have names of their own.
NAMED_ON_PURPOSE = {"DEVELOPERS.md": {"demand", "consumption", "reckon"}}


def test_nothing_that_is_said_to_a_keeper_is_in_dialect() -> None:
    heard = [
        f"{where}: '{found[0]}' in '{line.strip()}'"
        for where, text in said()
        for line in text.splitlines()
        for found in DIALECT.finditer(line)
        if found[0].lower() not in NAMED_ON_PURPOSE.get(where, ())
    ]
    assert not heard, "\n".join(heard)


@pytest.mark.parametrize(
    "line",
    [
        "mend one of the two",
        "what is taken up of nitrate is not reckoned",
        "'?' is no value for 'nitrate'",
        "a kit that strays by 15 dKH",
        "two pieces of it",
    ],
)
def test_the_dialect_is_heard(line: str) -> None:
    assert DIALECT.search(line)


@pytest.mark.parametrize("line", ["there is no coral 'ember'", "this is not a date", "it is no longer here"])
def test_plain_english_is_not_taken_for_dialect(line: str) -> None:
    assert not DIALECT.search(line)
