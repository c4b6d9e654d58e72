"""Reads a table of nature: a YAML file beside this module, checked against a model."""

from collections.abc import Sequence
from importlib.resources import files
from typing import Any, TypeVar

import yaml
from pydantic import ConfigDict, TypeAdapter, ValidationError

STRICT = ConfigDict(extra="forbid", allow_inf_nan=False)
# A text in every language of the pages, by the language's code.
Texts = dict[str, str]

_LOADER: type[Any] = yaml.CSafeLoader if yaml.__with_libyaml__ else yaml.SafeLoader
T = TypeVar("T")


class TableError(SystemExit):
    """A table of nature is wrong: the file, the line, and what is wrong. It ends a command with that one message."""


def table(name: str, model: type[T]) -> T:
    """The contents of ``NAME.yaml``. Raises `TableError` with the file and the first line that is wrong."""
    text = (files("generator.nature") / f"{name}.yaml").read_text(encoding="utf-8")
    return parsed(name, text, model)


def parsed(name: str, text: str, model: type[T]) -> T:
    """A table's contents from its text. Raises `TableError`."""
    try:
        return TypeAdapter(model).validate_python(yaml.load(text, Loader=_LOADER))
    except yaml.MarkedYAMLError as error:
        line = error.problem_mark.line + 1 if error.problem_mark else 1
        raise TableError(f"generator/nature/{name}.yaml:{line}: {error.problem or error}") from error
    except ValidationError as error:
        first = error.errors()[0]
        # Positions are only needed for a message, and finding them is slow.
        line = _line(yaml.compose(text, Loader=_LOADER), first["loc"])
        where = ".".join(str(part) for part in first["loc"])
        raise TableError(f"generator/nature/{name}.yaml:{line}: {where}: {first['msg']}") from error


def _line(node: Any, path: Sequence[int | str]) -> int:
    """The line of the deepest node on a path; what a model adds to the path is passed over."""
    for part in path:
        if isinstance(node, yaml.MappingNode):
            node = next((value for key, value in node.value if key.value == str(part)), node)
        elif isinstance(node, yaml.SequenceNode) and isinstance(part, int):
            node = node.value[part]
    return int(node.start_mark.line) + 1
