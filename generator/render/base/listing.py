"""Names in a sentence."""

from collections.abc import Sequence
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from generator.render.base.context import PageContext

# So many colonies are named where there are more.
_NAMED = 3


def listed(ctx: "PageContext", names: Sequence[str]) -> str:
    """Names in a sentence: a, b and c."""
    if len(names) < 2:
        return "".join(names)
    return ctx.words("next_tests.and", first=", ".join(names[:-1]), last=names[-1])


def shortened(ctx: "PageContext", names: Sequence[str]) -> str:
    """The first of some names, and how many more there are."""
    if len(names) > _NAMED + 1:
        names = [*names[:_NAMED], ctx.words("planned.more", n=len(names) - _NAMED)]
    return listed(ctx, names)
