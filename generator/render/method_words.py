"""How numbers are calculated, in the language of the site: from its catalogue, or from the code.

The English text is in the code only, beside the calculation; every other catalogue translates it.
"""

from dataclasses import replace

from generator.reckon.constants import Constant
from generator.reckon.method import Method
from generator.reckon.methods import METHODS
from generator.render.words import Words


def method_in_words(words: Words, id: str) -> Method:
    """A method's name, paragraph and assumptions in words; its sources stay as quoted."""
    method, said = METHODS[id], words.entries.get("method_texts", {}).get(id)
    if said is None:
        return method
    return replace(
        method, name=said["name"], paragraph=said["paragraph"], assumptions=tuple(said.get("assumptions", ()))
    )


def constant_in_words(words: Words, constant: Constant) -> str:
    """The name of a number of nature."""
    return str(words.entries.get("constant_names", {}).get(constant.name, constant.name))
