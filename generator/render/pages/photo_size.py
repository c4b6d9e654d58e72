"""The page that takes a coral's size from a photo, which never leaves the device."""

from typing import Any

from generator.nature.constants import REFRACTIVE_INDEX_OF_SEAWATER
from generator.render.base import links
from generator.render.base.blocks import Drawn, Paragraph
from generator.render.base.context import PageContext, page
from generator.render.base.inline import Link, joined
from generator.render.base.page import Page
from generator.render.base.why import to_method
from generator.units.kinds import KINDS
from generator.units.quantity import Quantity

# From the camera to the pane, and from there to the ruler, cm: common practice, no source.
_USUAL_DISTANCES = (20.0, 15.0)


def photo_size_page(ctx: PageContext) -> Page:
    """Two taps on a ruler and an outline give length, width and area, and the line for the coral's file."""
    words = ctx.words
    unit = ctx.display.units.get("length", KINDS["length"].canonical)
    corals = [coral for id in ctx.view.systems for coral in ctx.corals_of(id)]
    told: dict[str, Any] = {
        "n": REFRACTIVE_INDEX_OF_SEAWATER.value,
        "length": unit,
        "unitCm": Quantity(1.0, unit, "length").canonical(),
        # What a telephone in front of a tank is at, unless the keeper says otherwise.
        "usual": [f"{cm / Quantity(1.0, unit, 'length').canonical():.3g}" for cm in _USUAL_DISTANCES],
        "decimal": words("numbers.decimal"),
        "zone": str(ctx.display.zone),
        "corals": [coral.id for coral in corals],
        "words": {name: words.unfilled(f"photo_size.told.{name}") for name in words.entries["photo_size"]["told"]},
    }
    return page(
        ctx,
        "photo_size",
        "corals",
        Paragraph(words("photo_size.no_script"), "lead scriptless"),
        Drawn(
            "photo_size",
            (unit, tuple((coral.id, coral.name) for coral in corals), told, ctx.way(links.WRITE)),
            "writing",
        ),
        Paragraph(joined(f"{words('why.method')}:", to_method(ctx, "photo-size")), "note"),
        lead=words("photo_size.lead"),
        script="scripts/size-formulas.js scripts/photo-size.js",
    )


def photo_size_link(ctx: PageContext, coral: str) -> Link | None:
    """The way to it from a coral's page; the keeper's own site alone has it."""
    return (
        ctx.link(f"{links.PHOTO_SIZE}#of-{coral}", ctx.words("photo_size.link")) if ctx.view.audience == "own" else None
    )
