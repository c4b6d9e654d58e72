"""What all drawings share: the element with its title and words for those who hear it, and marks told by shape."""

from collections.abc import Iterable
from html import escape
from typing import Literal

from markupsafe import Markup

Sign = Literal["diamond", "below", "drop", "flag", "tick", "above"]

# Outlines around their centre, in px: no meaning depends on colour alone.
SIGNS: dict[Sign, str] = {
    "diamond": "M0,-5.5L5.5,0L0,5.5L-5.5,0Z",
    "below": "M-4.5,-3L4.5,-3L0,4.5Z",
    "above": "M-4.5,3L4.5,3L0,-4.5Z",
    "drop": "M0,-5.5C2.6,-2,4.2,0,4.2,1.8C4.2,4,2.3,5.8,0,5.8C-2.3,5.8,-4.2,4,-4.2,1.8C-4.2,0,-2.6,-2,0,-5.5Z",
    "flag": "M-3,6L-3,-6.5L6,-3.2L-1.5,0L-1.5,6Z",
    "tick": "M-1,-5.5L1,-5.5L1,5.5L-1,5.5Z",
}


def svg(id: str, look: str, size: str, title: str, inside: Iterable[str], said: str = "", role: str = "img") -> Markup:
    """A drawing as one element: its class, its attributes of size, its title, and what else is said of it."""
    named = escape(id)
    words = f'<desc id="{named}-said">{escape(said)}</desc>' if said else ""
    labelled = f"{named}-title {named}-said" if said else f"{named}-title"
    return Markup(
        f'<svg xmlns="http://www.w3.org/2000/svg" class="{look}" role="{role}" {size} aria-labelledby="{labelled}">'
        f'<title id="{named}-title">{escape(title)}</title>{words}{"".join(inside)}</svg>'
    )
