"""Why a record of origin is refused."""


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
