"""`corallite sheet`: the sheet of a plan, with its day in order; without a name, the list of plans."""

import argparse
from typing import TYPE_CHECKING

from generator.commands.asking import keepers_context, understood
from generator.commands.options import add_as_of, add_content, named
from generator.commands.terminal import doing

if TYPE_CHECKING:
    from generator.commands.asking import Asked
    from generator.reckon.planned.analysis import PlanFindings
    from generator.records.planned import Planned
    from generator.render.base.context import PageContext

EXAMPLES = """\
  corallite sheet lot-19"""


def arguments(parser: argparse.ArgumentParser) -> None:
    """Declare the command's words and options."""
    parser.add_argument("plan", nargs="?", metavar="PLAN", help="the name of the plan's file (default: list all plans)")
    add_content(parser)
    add_as_of(parser)


def run(args: argparse.Namespace) -> int:
    """Print the sheet. Return 1 if there is no such plan, or the journal has errors."""
    from generator.reckon.analysis.journal import analyse
    from generator.render.base.page import lines, said
    from generator.render.pages.sheet import sheet_page

    asked = understood(args, lambda known: _plan(args, known) if args.plan else None)
    if asked is None:
        return 1
    known, plan = asked
    with doing(args, "calculating"):
        found = analyse(known.journal, known.as_of)
        ctx = keepers_context(known, found)
    if plan is None:
        told = [_line(ctx, each) for each in found.plans] or [ctx.words("planned.none")]
    else:
        page = sheet_page(ctx, next(each for each in found.plans if each.plan.id == plan.id))
        told = [page.frame.title, said(page.lead), *lines(page.blocks)]
    for line in told:
        print(line.replace("\u00a0", " "))
    return 0


def _plan(args: argparse.Namespace, known: "Asked") -> "Planned":
    """The plan asked for. Raises `LookupError`, and says so where it is done, dropped or not planned yet."""
    try:
        return named("plan", args.plan, known.journal.plans)
    except LookupError:
        file = f"plans/{args.plan.removesuffix('.yaml')}.yaml"
        if not (args.content / file).is_file():
            raise
        on = f"{known.as_of:%Y-%m-%d %H:%M}"
        wrong = f"on {on} nothing is left to do for '{args.plan}'"
        raise LookupError(f"{wrong}: it has arrived, was dropped, or was not planned yet (see {file})") from None


def _line(ctx: "PageContext", found: "PlanFindings") -> str:
    """One plan by the name of its file."""
    from generator.render.base.words import ended
    from generator.render.pages.travel import left_words, title_of, when_of

    plan, when = found.plan, when_of(ctx, found.plan)
    date = f", {when.text}, {left_words(ctx, found.days)}" if when else ""
    return f"{plan.id}: {ended(title_of(ctx, plan))} {ctx.words(f'planned.stage.{plan.stage}')}{date}"
