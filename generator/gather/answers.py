"""Answers that are kept, so that a file of the same headings is never asked about twice."""

import json
from collections.abc import Mapping, Sequence

from generator.gather.layout import Names, layout
from generator.gather.opening import Sheet
from generator.read.recovery import read_yaml

FILE = ".gather.yaml"
_ABOUT = "# What you told `corallite gather` about spreadsheets, by their headings. You may correct or delete it.\n"
# What is true of one file only.
_ONCE = ("day",)


def signature(sheets: Sequence[Sheet], names: Names) -> str:
    """What files of one shape have in common: the headings of their first table."""
    for sheet in sheets:
        for block in layout(sheet, names, {}).blocks:
            return " | ".join(head.text for head in block.headings if head.text)
    return sheets[0].name if sheets else ""


def kept(text: str) -> dict[str, dict[str, str]]:
    """The answers in a file's text, by signature. Raises `ValueError` for a text that has none."""
    document, problems = read_yaml(text, FILE) if text.strip() else (None, ())
    if problems:
        raise ValueError(str(problems[0]))
    found = document.value if document is not None else {}
    if not isinstance(found, dict) or not all(isinstance(each, dict) for each in found.values()):
        raise ValueError(f"{FILE} is not a list of answers by headings (delete it, and answer again)")
    return {str(headings): {str(k): str(v) for k, v in each.items()} for headings, each in found.items()}


def with_answers(text: str, headings: str, answers: Mapping[str, str]) -> str:
    """A file's text with the answers for some headings in place of those before."""
    every = {**kept(text), headings: {key: value for key, value in answers.items() if key not in _ONCE}}
    lines = [_ABOUT]
    for name, each in sorted((name, each) for name, each in every.items() if each):
        lines.append(f"{_text(name)}:\n")
        lines += [f"  {_text(key)}: {_text(value)}\n" for key, value in sorted(each.items())]
    return "".join(lines) if len(lines) > 1 else ""


def _text(said: str) -> str:
    return json.dumps(said, ensure_ascii=False)
