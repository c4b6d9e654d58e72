"""Why a record of origin is refused, and the texts of a stranger that would not show as what they are."""

import unicodedata


class Refused(Exception):
    """A refused record. `kind` is a short stable name; `wrong` and `remedy` are the message for the keeper.

    `where` is a path inside the document ("" for the whole).
    """

    def __init__(self, kind: str, wrong: str, remedy: str, where: str = "") -> None:
        super().__init__(f"{where}: {wrong} ({remedy})" if where else f"{wrong} ({remedy})")
        self.kind = kind
        self.wrong = wrong
        self.remedy = remedy
        self.where = where


def shown(text: str, at_most: int = 60) -> str:
    """A stranger's text, made safe and short enough to print in a message."""
    cut = text if len(text) <= at_most else f"{text[:at_most]}…"
    return "".join(c if c.isprintable() else c.encode("unicode_escape", "backslashreplace").decode() for c in cut)


# Control, format (bidirectional and zero-width marks), lone surrogates, private use, unassigned, and
# line and paragraph ends: no name or caption needs any of them.
_UNSEEN = frozenset({"Cc", "Cf", "Cs", "Co", "Cn", "Zl", "Zp"})
# Scripts whose letters are drawn alike; one word is written in one of them.
_ALIKE = frozenset({"LATIN", "CYRILLIC", "GREEK", "ARMENIAN", "CHEROKEE", "COPTIC", "LISU"})
# Marks, fillers and a pattern of Braille that are letters or signs by name, and draw nothing.
# Source: Unicode 15, Default_Ignorable_Code_Point, without what is in the classes above; U+2800 by its picture.
_BLANKS = frozenset("\u034f\u115f\u1160\u17b4\u17b5\u2800\u3164\uffa0") | {
    chr(code)
    for first, last in ((0x180B, 0x180F), (0xFE00, 0xFE0F), (0xE0100, 0xE01EF))
    for code in range(first, last + 1)
}
# Wide forms of ASCII: a spreadsheet may take a wide equals sign for a formula.
_WIDE = frozenset(map(chr, range(0xFF01, 0xFF5F)))
_ORDINALS = frozenset("ªº")
_MOST_MARKS = 3
_REMEDY = "ask your partner to type it again in plain letters"


def plain(text: str) -> str:
    """Our own text as a record can hold it: without invisible characters, each letter in its plain form."""
    seen = (
        letter
        if unicodedata.category(letter)[0] != "L" and letter not in _WIDE
        else unicodedata.normalize("NFKC", letter)
        for letter in text
        if unicodedata.category(letter) != "Cf" and letter not in _BLANKS
    )
    return unicodedata.normalize("NFC", " ".join("".join(seen).split()))


def check_text(text: str, where: str) -> None:
    """Raise `Refused` for invisible characters, look-alike letters, odd accents and text that is not NFC."""
    marks = _MOST_MARKS
    for letter in text:
        category = unicodedata.category(letter)
        if category in _UNSEEN or letter in _BLANKS or (category == "Zs" and letter != " "):
            wrong = f"the text has an invisible character, U+{ord(letter):04X}"
            raise Refused("unseen-character", wrong, _REMEDY, where)
        plain = letter in _ORDINALS or (category[0] != "L" and letter not in _WIDE)
        if not plain and unicodedata.normalize("NFKC", letter) != letter:
            raise Refused("look-alike", f"U+{ord(letter):04X} looks like a plain letter but is not one", _REMEDY, where)
        marks = marks + 1 if category[0] == "M" else _MOST_MARKS * (letter == " ")
        if marks > _MOST_MARKS:
            wrong = f"an accent without its letter, or more than {_MOST_MARKS} accents on one letter"
            raise Refused("look-alike", wrong, _REMEDY, where)
    if unicodedata.normalize("NFC", text) != text:
        raise Refused("look-alike", "the text is not normalized (Unicode NFC)", _REMEDY, where)
    for word in text.split(" "):
        scripts = {name.split(" ")[0] for c in word if c.isalpha() and (name := unicodedata.name(c, ""))} & _ALIKE
        if len(scripts) > 1:
            wrong = f"one word mixes letters of {' and '.join(sorted(scripts)).title()}"
            raise Refused("look-alike", wrong, _REMEDY, where)
