"""`corallite build`: make the site from a journal's files; `tables`: make its tables alone."""

import argparse
import time
from collections.abc import Callable, Mapping
from contextlib import suppress
from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING, Protocol

from generator.commands import remembering
from generator.commands.asking import asked, read_journal
from generator.commands.check import judged
from generator.commands.options import add_as_of, add_content, address, cache
from generator.commands.remembering import Last, digest_of_build, last, same, stamp_of_files
from generator.commands.terminal import NOT_ALL, Stop, counted, doing, print_done, print_problems, stopping

if TYPE_CHECKING:
    from generator.door.door import Door
    from generator.door.memory import Remembered
    from generator.door.steps import Steps
    from generator.records.coral import Audience
    from generator.records.journal import Journal

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
    parser.add_argument("--key", type=Path, metavar="FILE", help="sign that partner's records of origin with this key")


class Live(Protocol):
    """Who builds again and again, and shows the site."""

    def memory(self, file: Path, program: str) -> "Remembered":
        """The memory in a file, which it keeps."""

    def rest(self) -> object:
        """Wait until nobody writes the files that were read. Raises `SavedAgain`."""

    def begin(self, door: "Steps", page: Callable[[str], Mapping[str, bytes]]) -> None:
        """Make what is wanted before the rest: `page` gives the files of a page by its address."""

    def show(self) -> None:
        """Show the site that was published, while what it took is learnt."""


def run(args: argparse.Namespace, live: Live | None = None) -> int:
    """Read, calculate, draw, publish. If anything is wrong: return 1, or raise `Stop`, and leave the old site."""
    started, now = time.perf_counter(), remembering.clock()
    # Where more builds follow, something will have changed before each.
    files = b"" if live else stamp_of_files(args.content)

    def built(door: "Door", memory: "Remembered | None") -> int:
        before = last(memory.last()) if memory else None
        if before and same(before, files, args.content, _folder(args), *_told(args, now)):
            print_problems(list(before.problems), args.content)
            _say(args, before.pages, started)
            return 0
        return _build(args, now, door, memory, live, files if memory else b"")

    return remembering.through_memory(memory_of(args), built, live.memory if live else None)


def _build(
    args: argparse.Namespace, now: datetime, door: "Door", memory: "Remembered | None", live: Live | None, files: bytes
) -> int:
    from generator.commands.making import Wanted, site_in_steps
    from generator.door.steps import Steps
    from generator.exchange.document import Refused
    from generator.publish.stage import Before, CannotPublish, publish
    from generator.records.journal import in_the_future_from, moment

    started, begun = time.perf_counter(), time.time()
    loaded = read_journal(args, in_the_future_from(args.as_of, now), door)
    if loaded.journal is None:
        print_problems(judged(loaded, args.content, cache()), args.content)
        return 1
    with suppress(FileNotFoundError, NotADirectoryError):
        _folder(args).stat()  # a name that no disk takes is refused before anything is calculated
    settings = loaded.journal.settings
    # Before git is asked for the history: a commit that is made meanwhile goes into the next build.
    by_git = settings.history == "git"
    told = digest_of_build(files, args.content, by_git, *_told(args, now)) if files else b""
    wanted = Wanted(*_audience(args, loaded.journal), args.base_url, args.key)
    with stopping(Refused, ValueError), doing(args, "making the site") as tell:
        as_of = moment(args.as_of or now, settings.time_zone)
        made = site_in_steps(door, loaded, args.content, cache(), as_of, wanted._replace(tell=tell))
        if live:
            live.rest()
            if isinstance(door, Steps):
                live.begin(door, made.page)
        problems = made.problems()
    print_problems(list(problems), args.content)
    if any(problem.severity == "error" for problem in problems):
        return 1
    try:
        with doing(args, "writing the site"):
            laid_by = memory_of(args).with_suffix(".site")
            before = Before(memory.written(), made.files.differing, laid_by) if memory else None
            keep = settings.publish.keep if settings.publish else ()
            show = live.show if live else bool
            written = publish(made.files, _folder(args), keep, args.replace, made.dead_links, before, show)
    except CannotPublish as refused:
        raise Stop(*refused.reasons) from None
    pages = len(made.pages())
    if memory and isinstance(door, Steps):
        # What is saved while a build runs is unsure, or not as it was seen at the start: the next build reads it.
        settled = not remembering.unsure(news := door.news(), begun) and files
        whole = Last(told, stamp_of_files(_folder(args)), problems, pages, by_git).kept() if settled else None
        memory.learn(news, written, whole)
        remembering.forget_others(memory_of(args).parent, begun)
    _say(args, pages, started)
    return 0


def _say(args: argparse.Namespace, pages: int, started: float) -> None:
    if not args.quiet:
        took = time.perf_counter() - started
        print(f"{pages} pages in {took:.1f} s; open {(_folder(args) / 'index.html').absolute()}")


def _folder(args: argparse.Namespace) -> Path:
    return args.site or Path("site")


def _told(args: argparse.Namespace, now: datetime) -> tuple[object, ...]:
    """What a build is given beside the journal."""
    from generator.render.base.words import digest_of_templates

    key = args.key.read_bytes() if args.key and args.key.is_file() else b""
    return remembering.program(), digest_of_templates(), args.as_of or now, args.audience, args.base_url, key


def memory_of(args: argparse.Namespace) -> Path:
    """The file that remembers builds of this journal for this audience into this folder."""
    return remembering.file_of(args.content.resolve(), _folder(args).resolve(), args.audience, args.base_url, args.key)


def _audience(args: argparse.Namespace, journal: "Journal") -> "tuple[Audience, str | None]":
    """The site's audience, and the partner if it is for one. Raises `Stop`."""
    who, _, partner = args.audience.partition(":")
    if args.audience in ("public", "partners", "own"):
        if args.key is not None:
            raise Stop("--key signs the records of one partner (add --audience partner: and the partner's id)")
        return args.audience, None
    if who != "partner" or not partner:
        raise Stop(f"'{args.audience}' is not an audience (write public, partners, own, or partner: and an id)")
    if partner not in journal.partners:
        known = ", ".join(journal.partners)
        remedy = (
            f"write one of {known}" if known else f"make content/partners/{partner}.yaml with a line 'name: …' first"
        )
        raise Stop(f"there is no partner '{partner}' ({remedy})")
    if args.site is None:
        raise Stop("a site for a partner needs a folder of its own (add --site and a new folder)")
    return "partners", partner


TABLES_EXAMPLES = """\
  corallite tables                            in tables/
  corallite tables --to shared --audience public"""


def tables_arguments(parser: argparse.ArgumentParser) -> None:
    """Declare the command's options."""
    add_content(parser)
    parser.add_argument("--to", type=Path, default=Path("tables"), metavar="DIR", help="the folder (default: tables)")
    add_as_of(parser)
    parser.add_argument(
        "--audience",
        choices=("own", "partners", "public"),
        default="own",
        help="leave out what this audience may not see (default: own, which leaves out nothing)",
    )


def tables_run(args: argparse.Namespace) -> int:
    """Read, calculate, write the files. Files that the command wrote before are replaced."""
    from generator.commands.writing import write_over
    from generator.reckon.analysis.journal import analyse
    from generator.render.audience import view
    from generator.render.base.words import words_of
    from generator.render.found import basis_of
    from generator.render.tables.files import data_files

    question = asked(args)
    seen = view(question.journal, args.audience)
    with doing(args, "calculating"):
        basis = basis_of(seen, analyse(question.journal, question.as_of))
    files = data_files(basis, words_of(seen.settings.language))
    with stopping(wrote=NOT_ALL):
        write_over(args.to, {address.removeprefix("data/"): content for address, content in files.items()})
    print_done(args, f"{counted(len(files), 'file')} in {args.to}: start with corallite.sqlite or datapackage.json")
    return 0
