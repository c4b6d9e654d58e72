"""Text from a stranger that would not show as what it is."""

import unicodedata

from generator.exchange.refusal import Refused

# Control, format (bidirectional and zero-width marks), lone surrogates, private use, unassigned, and
# line and paragraph ends: none has a place in a name or a caption.
_UNSEEN = frozenset({"Cc", "Cf", "Cs", "Co", "Cn", "Zl", "Zp"})
# Scripts whose letters are drawn alike; one word is written in one of them.
_ALIKE = frozenset({"LATIN", "CYRILLIC", "GREEK", "ARMENIAN", "CHEROKEE", "COPTIC", "LISU"})
_ORDINALS = frozenset("ªº")
_MOST_MARKS = 3
_REMEDY = "ask your partner to write it in plain letters"


def check_text(text: str, where: str) -> None:
    """Raise `Refused` for invisible characters, look-alike letters, piled-up marks and odd forms."""
    marks = 0
    for letter in text:
        category = unicodedata.category(letter)
        if category in _UNSEEN or (category == "Zs" and letter != " "):
            wrong = f"the text holds the unseen character U+{ord(letter):04X}"
            raise Refused("unseen-character", wrong, _REMEDY, where)
        if category[0] == "L" and letter not in _ORDINALS and unicodedata.normalize("NFKC", letter) != letter:
            raise Refused("look-alike", f"U+{ord(letter):04X} only looks like a plain letter", _REMEDY, where)
        marks = marks + 1 if category[0] == "M" else 0
        if marks > _MOST_MARKS:
            raise Refused("look-alike", f"more than {_MOST_MARKS} marks are piled on one letter", _REMEDY, where)
    if unicodedata.normalize("NFC", text) != text:
        raise Refused("look-alike", "the letters are not in their composed form (NFC)", _REMEDY, where)
    for word in text.split(" "):
        scripts = {name.split(" ")[0] for c in word if c.isalpha() and (name := unicodedata.name(c, ""))} & _ALIKE
        if len(scripts) > 1:
            wrong = f"one word mixes letters of {' and '.join(sorted(scripts)).title()}"
            raise Refused("look-alike", wrong, _REMEDY, where)
