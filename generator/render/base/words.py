"""Every word of the site, from one catalogue a language (templates/words/<language>.yaml), and where templates are."""

from collections.abc import Mapping
from functools import cache, cached_property
from hashlib import blake2b
from importlib.resources import files
from importlib.resources.abc import Traversable
from typing import Any

import yaml
from msgspec import Struct

from generator.door.compiled import compiled


def template_files() -> Traversable:
    """The folder of templates, the stylesheet and the words: in the wheel, or in the checkout."""
    package = files("generator")
    shipped = package / "templates"
    return shipped if shipped.is_dir() else package / ".." / "templates"


# The endings of templates: what is drawn with them is drawn again when one changes.
TEMPLATES = (".html", ".xml")


@cache
def digest_of_templates() -> bytes:
    """A digest of all templates, as they were when first asked."""
    digest = blake2b(digest_size=16)

    def take(folder: Traversable) -> None:
        for each in sorted(folder.iterdir(), key=lambda each: each.name):
            if each.is_dir():
                take(each)
            elif each.name.endswith(TEMPLATES):
                digest.update(each.name.encode() + each.read_bytes())

    take(template_files())
    return digest.digest()


def ended(text: str) -> str:
    """A text with the full stop of its sentence, unless it has one."""
    return text if text.endswith(".") else f"{text}."


class MissingWord(LookupError):
    """A key that the catalogue lacks, or a blank that was not filled: our mistake, not the keeper's."""


class Words(Struct, frozen=True, dict=True):
    """The catalogue of one language. Calling it with a dotted key gives the words, blanks filled."""

    language: str
    entries: Mapping[str, Any]

    @cached_property
    def decimal(self) -> str:
        """The decimal sign, which every number asks for."""
        return self("numbers.decimal")

    def __call__(self, key: str, /, **blanks: object) -> str:
        """The words at a key such as ``system.volume``.

        An entry with the forms `one` and `other` chooses by the blank `n`. Raises `MissingWord`.
        """
        if blanks:
            return self._filled(key, blanks)
        if (said := self._said.get(key)) is None:
            said = self._said[key] = self._filled(key, blanks)
        return said

    def _filled(self, key: str, blanks: Mapping[str, object]) -> str:
        entry = self._entry(key)
        if not isinstance(entry, str) and "other" in entry and "n" in blanks:
            entry = entry["one"] if blanks["n"] == 1 and "one" in entry else entry["other"]
        if not isinstance(entry, str):
            raise MissingWord(f"no words for '{key}' in {self.language}")
        try:
            said = entry.format(**blanks)
        except (KeyError, IndexError) as error:
            raise MissingWord(f"'{key}' in {self.language} has a blank nobody filled: {error}") from error
        for blank in blanks.values():
            if type(blank) is str and blank[-1:] == ".":  # an abbreviation that ends a sentence has one full stop
                said = said.replace(f"{blank}.", blank)
        return said

    def each(self, *keys: str) -> tuple[str, ...]:
        """The words at several keys, such as the heads of a table."""
        return tuple(map(self, keys))

    def unfilled(self, key: str) -> str:
        """The words at a key with their blanks in them, for a script that fills them."""
        return str(self._entry(key))

    def has(self, key: str) -> bool:
        """Whether the catalogue has words at a key."""
        try:
            return self._entry(key) is not None
        except MissingWord:
            return False

    def unit(self, symbol: str) -> str:
        """A unit as the pages write it; most are written as their symbol."""
        return str(self.entries["units"].get(symbol, symbol))

    @cached_property
    def _found(self) -> dict[str, Any]:
        return {}

    @cached_property
    def _said(self) -> dict[str, str]:
        return {}

    def _entry(self, key: str) -> Any:
        if (entry := self._found.get(key)) is not None:
            return entry
        entry = self.entries
        for part in key.split("."):
            if not isinstance(entry, Mapping) or part not in entry:
                raise MissingWord(f"no words for '{key}' in {self.language}")
            entry = entry[part]
        self._found[key] = entry
        return entry


@cache
def words_of(language: str) -> Words:
    """The catalogue of a language, read once."""
    # BaseLoader keeps every scalar as text, so that a key such as `no` stays a word.
    loader = yaml.CBaseLoader if yaml.__with_libyaml__ else yaml.BaseLoader
    file = template_files() / "words" / f"{language}.yaml"
    return Words(language, compiled(file, lambda text: yaml.load(text, Loader=loader)))
