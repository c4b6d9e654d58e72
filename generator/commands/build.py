"""`corallite build`: make the site from a journal's files."""

import argparse
import os
import sys
import time
from dataclasses import replace
from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING

from generator.commands.judging import cannot_leave, judged, unfit
from generator.commands.options import add_as_of, add_content, add_quiet, address, cache
from generator.commands.progress import doing, each
from generator.commands.reporting import print_problems

if TYPE_CHECKING:
    from generator.publish.photos import Album
    from generator.reckon.analysis.journal import Findings
    from generator.records.coral import Audience
    from generator.records.journal import Journal
    from generator.render.audience import View
    from generator.render.papers import Papers
    from generator.render.site.site_map import Site

EXAMPLES = """\
  corallite build --as-of 2026-11-22          the public site, in site/
  corallite build --audience partner:tamsin-orlebrook --site for-tamsin   a folder for one partner"""


def arguments(parser: argparse.ArgumentParser) -> None:
    """Declare the command's options."""
    add_content(parser)
    parser.add_argument("--site", type=Path, metavar="DIR", help="the folder for the site (default: site)")
    add_as_of(parser)
    parser.add_argument(
        "--audience",
        default="public",
        metavar="WHO",
        help="public (the default), partners, own, or partner:ID for a folder that you hand to one partner",
    )
    parser.add_argument(
        "--replace", action="store_true", help="delete files in the site's folder that no build wrote and nothing keeps"
    )
    parser.add_argument(
        "--base-url", type=address, metavar="URL", help="where it will be published (default: that of journal.yaml)"
    )
    add_quiet(parser)
    parser.add_argument("--key", type=Path, metavar="FILE", help="sign that partner's records of origin with this key")


def run(args: argparse.Namespace) -> int:
    """Read, calculate, draw, publish. If anything is wrong: return 1 and leave the old site as it was."""
    from generator.commands.papers import papers
    from generator.exchange.refusal import Refused
    from generator.publish.photos import small_copies
    from generator.publish.stage import CannotPublish, publish
    from generator.read.history import history_of
    from generator.read.load import load
    from generator.records.past import as_it_stood, in_the_future_from, moment
    from generator.records.problem import in_order
    from generator.render.audience import view

    started = time.perf_counter()
    now = _clock()
    with doing(args, "reading the journal"):
        loaded = load(args.content, in_the_future_from(args.as_of, now))
    if loaded.journal is None:
        print_problems(judged(loaded, args.content, cache()), args.content)
        return 1
    as_of = moment(args.as_of or now, loaded.journal.settings.time_zone)
    journal = as_it_stood(loaded.journal, as_of)
    if args.base_url:
        journal = replace(journal, settings=replace(journal.settings, base_url=args.base_url))
    try:
        audience, partner = _audience(args, journal)
        seen = view(journal, audience, partner)
        seen = seen.knowing(history_of(args.content)) if seen.shows_history else seen
        shown = papers(journal, seen, args.content, as_of.date(), args.key)
    except (Refused, ValueError) as error:
        print(error, file=sys.stderr)
        return 1
    folder: Path = args.site or Path("site")
    album = small_copies(args.content, each(args, "copying photo", seen.photos()), cache())
    with doing(args, "calculating"):
        found = reckoned(journal, as_of)
    with doing(args, "making the pages"):
        site = site_of(journal, seen, found, as_of, album, shown)
    problems = in_order([*loaded.problems, *site.problems, *unfit(album.refused), *cannot_leave(loaded)])
    print_problems(problems, args.content)
    if any(problem.severity == "error" for problem in problems):
        return 1
    settings = loaded.journal.settings
    try:
        with doing(args, "writing the site"):
            publish(drawn(site, album), folder, settings.publish.keep if settings.publish else (), args.replace)
    except CannotPublish as refused:
        print("\n".join(refused.reasons), file=sys.stderr)
        return 1
    took = time.perf_counter() - started
    if not args.quiet:
        print(f"{len(site.pages)} pages in {took:.1f} s; open {(folder / 'index.html').absolute()}")
    return 0


def _audience(args: argparse.Namespace, journal: "Journal") -> "tuple[Audience, str | None]":
    """The site's audience, and the partner if it is for one. Raises `ValueError` with a message for the keeper."""
    who, _, partner = args.audience.partition(":")
    everyone: dict[str, Audience] = {"public": "public", "partners": "partners", "own": "own"}
    if args.audience in everyone:
        if args.key is not None:
            raise ValueError("--key signs the records of one partner (add --audience partner: and the partner's id)")
        return everyone[who], None
    if who != "partner" or not partner:
        raise ValueError(f"'{args.audience}' is not an audience (write public, partners, own, or partner: and an id)")
    if partner not in journal.partners:
        known = ", ".join(journal.partners)
        remedy = (
            f"write one of {known}" if known else f"make content/partners/{partner}.yaml with a line 'name: …' first"
        )
        raise ValueError(f"there is no partner '{partner}' ({remedy})")
    if args.site is None:
        raise ValueError("a site for a partner needs a folder of its own (add --site and a new folder)")
    return "partners", partner


def reckoned(journal: "Journal", as_of: datetime) -> "Findings":
    """All results for a journal at a moment."""
    from generator.reckon.analysis.journal import analyse

    return analyse(journal, as_of)


def site_of(
    journal: "Journal", seen: "View", found: "Findings", as_of: datetime, album: "Album", shown: "Papers"
) -> "Site":
    """The site of one audience, before its pages are drawn."""
    from generator.reckon.attention import alerts
    from generator.render.site.site_map import site

    return site(seen, found, alerts(journal, found), as_of, album.pictures, shown)


def drawn(site: "Site", album: "Album") -> dict[str, bytes]:
    """Every file of the site by its address."""
    from generator.publish.assets import gather
    from generator.publish.cards import png
    from generator.render.base.environment import render_page
    from generator.render.base.template_files import template_files

    assets = gather(template_files() / "assets")
    pages = {page.url: render_page(page, assets.addresses) for page in site.pages}
    cards = {address: png(card) for address, card in site.cards.items()}
    return {**assets.files, **album.files, **cards, **site.files, **pages}


def _clock() -> datetime:
    """Now, or the moment in SOURCE_DATE_EPOCH, which makes builds repeatable."""
    epoch = os.environ.get("SOURCE_DATE_EPOCH", "")
    # Ten digits reach to the year 2286; more would leave the calendar.
    return datetime.fromtimestamp(int(epoch), UTC) if epoch.isdecimal() and len(epoch) <= 10 else datetime.now(UTC)
