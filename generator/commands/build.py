"""`corallite build`: a site from a journal's folder, step by step behind one door: read, calculate, draw, publish."""

import argparse
import time
from collections.abc import Callable, Iterator, Mapping
from contextlib import suppress
from dataclasses import dataclass, replace
from datetime import datetime
from functools import partial
from itertools import chain
from pathlib import Path
from typing import TYPE_CHECKING, Protocol

from generator.commands import remembering
from generator.commands.check import cannot_leave, judged, unfit
from generator.commands.options import add_as_of, add_content, address, cache
from generator.commands.remembering import Last, digest_of_build, last, same, stamp_of_files
from generator.commands.terminal import Stop, doing, print_problems, stopping

if TYPE_CHECKING:
    from generator.door.door import Door
    from generator.door.memory import Remembered
    from generator.door.steps import Steps
    from generator.publish.assets import Album
    from generator.read.load import Loaded
    from generator.records.coral import Audience
    from generator.records.journal import Journal
    from generator.records.source import Problem
    from generator.render.audience import View
    from generator.render.base.prose import Picture

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
    from generator.door.steps import Steps
    from generator.exchange.schema import Refused
    from generator.publish.stage import Before, CannotPublish, publish
    from generator.read.load import load
    from generator.records.journal import in_the_future_from, moment

    started, begun = time.perf_counter(), time.time()
    with doing(args, "reading the journal"):
        loaded = load(args.content, in_the_future_from(args.as_of, now), door=door)
    if loaded.journal is None:
        print_problems(judged(loaded, args.content, cache()), args.content)
        return 1
    with suppress(FileNotFoundError, NotADirectoryError):
        _folder(args).stat()  # a name that no disk takes is refused before anything is calculated
    settings = loaded.journal.settings
    # Before git is asked for the history: a commit that is made meanwhile goes into the next build.
    by_git = settings.history == "git"
    told = digest_of_build(files, args.content, by_git, *_told(args, now)) if files else b""
    audience = _audience(args, loaded.journal)
    with stopping(Refused, ValueError), doing(args, "making the site") as tell:
        as_of = moment(args.as_of or now, settings.time_zone)
        made = _site_in_steps(args, door, loaded, as_of, audience, tell)
        if live and isinstance(door, Steps):
            live.begin(door, made.page)
        problems = made.problems()
    print_problems(list(problems), args.content)
    if any(problem.severity == "error" for problem in problems):
        return 1
    try:
        with doing(args, "writing the site"):
            before = Before(memory.written(), made.files.differing) if memory else None
            keep = settings.publish.keep if settings.publish else ()
            show = live.show if live else bool
            written = publish(made.files, _folder(args), keep, args.replace, made.dead_links, before, show)
    except CannotPublish as refused:
        raise Stop(*refused.reasons) from None
    pages = len(made.pages())
    if memory and isinstance(door, Steps):
        unsure = remembering.unsure(news := door.news(), begun)
        settled = files and not unsure and stamp_of_files(args.content) == files
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


@dataclass(frozen=True, slots=True)
class _Made:
    """A site in steps: its files and its pages by address, and what is wrong in the journal and in links.

    `page` gives a page with the data of its charts, by their addresses.
    """

    files: "_Together"
    pages: Callable[[], tuple[str, ...]]
    problems: Callable[[], tuple["Problem", ...]]
    dead_links: Callable[[], list[str]]
    page: Callable[[str], dict[str, bytes]]


def _site_in_steps(
    args: argparse.Namespace,
    door: "Door",
    loaded: "Loaded",
    as_of: datetime,
    audience: "tuple[Audience, str | None]",
    tell: Callable[[str], None],
) -> _Made:
    """The site of a journal without mistakes, at a moment. Raises `Refused` if the key cannot sign.

    `tell` gets the name of a part that takes long before it is made, and "" when it is done.
    """
    from generator.commands.papers import papers
    from generator.door.door import later
    from generator.publish.assets import assets_in
    from generator.publish.stage import dead_links_of, links_in
    from generator.reckon.analysis.journal import analyse
    from generator.records.journal import as_it_stood
    from generator.records.source import in_order
    from generator.render.base.links import SEARCH
    from generator.render.base.words import digest_of_templates, template_files
    from generator.render.site.site_map import steps_of_site

    with later():  # loaded when they are needed
        from generator.publish import assets as lazy_assets
        from generator.reckon import attention as lazy_attention
        from generator.render.base import page as lazy_page

    assert loaded.journal is not None
    journal = _addressed(door, as_it_stood(loaded.journal, as_of, door), args.base_url)
    found = analyse(journal, as_of, door)
    seen = _view(door, journal, args.content, audience)
    day = door.one("day of papers", lambda: found.as_of.astimezone(journal.settings.time_zone).date())
    shown = papers(journal, seen, args.content, day, args.key, door, loaded.marked)
    by_photo, photo_files, refused = _pictures(args.content, door, seen, loaded.marked, tell)
    needs = door.one("alerts", lambda: lazy_attention.alerts(journal, found))
    templates = partial(door.given("templates", {"": digest_of_templates()}), "")
    steps = steps_of_site(door, seen, found, needs, lambda: found.as_of, by_photo, shown, templates)
    door.all_given()
    door.on_all_cores(
        lambda: (
            [(("water", id), ("dosing", id)) for id in journal.systems]
            + [(("growth", id), ("size held", id), ("paper of coral", id)) for id in journal.corals]
        )
    )

    def drawn_page(url: str) -> bytes:
        templates()
        return lazy_page.render_page(steps.pages[url], assets.addresses)

    assets = assets_in(template_files() / "assets")
    drawn = door.each("drawn", lambda: steps.pages, drawn_page, keep=False)
    beside = door.by_id("file beside", lambda: dict(each for each in steps.beside.values() if each))
    cards = door.each("card", lambda: steps.cards, lambda address: lazy_assets.png(steps.cards[address]), keep=False)
    files = _Together((drawn, beside, *steps.files, photo_files, cards, assets.files))

    def problems_of_site() -> tuple["Problem", ...]:
        return (*steps.problems(), *unfit(refused()), *cannot_leave(loaded))

    links = door.each("links", lambda: steps.pages, lambda url: links_in(drawn[url]))
    told = door.one("problems of site", problems_of_site)
    # Steps of one page share what it is made from; the page of the search asks for all others.
    of_a_page = "wrong on page", "document", "beside page", "drawn", "links"
    door.on_all_cores(
        lambda: (
            [[("data file", address)] for address in steps.files[0]]
            + [[(name, url) for name in of_a_page] for url in steps.pages if url != SEARCH]
        )
    )
    dead = door.each("dead links of", lambda: steps.pages, lambda url: dead_links_of(url, links, files))
    return _Made(
        files,
        door.one("addresses", lambda: tuple(steps.pages)),
        # What reading found does not come out of a step, so that no step may rest on it.
        lambda: tuple(in_order([*loaded.problems, *told()])),
        door.one("dead links", lambda: sorted({wrong for url in dead for wrong in dead[url]})),
        lambda url: {url: drawn[url], **dict(filter(None, [steps.beside[url]]))} if url in drawn else {},
    )


class _Together(Mapping[str, bytes]):
    """Files from several steps, by address."""

    def __init__(self, parts: tuple[Mapping[str, bytes], ...]) -> None:
        self.parts = parts

    def __getitem__(self, address: str) -> bytes:
        for part in self.parts:
            if address in part:
                return part[address]
        raise KeyError(address)

    def __contains__(self, address: object) -> bool:
        return any(address in part for part in self.parts)

    def __iter__(self) -> Iterator[str]:
        return chain.from_iterable(self.parts)

    def __len__(self) -> int:
        return sum(map(len, self.parts))

    def differing(self) -> frozenset[str]:
        """The addresses of files that are not known to be as in the build before. Assets go with the program."""
        from generator.door.door import Each

        return frozenset().union(*(part.differing() for part in self.parts if isinstance(part, Each)))


def _addressed(door: "Door", journal: "Journal", base_url: str | None) -> "Journal":
    """The journal with another public address, if there is one."""
    from generator.door.door import parts_of

    if base_url is None:
        return journal
    given = door.given("base url", {"": base_url})
    settings = door.one("settings with address", lambda: replace(journal.settings, base_url=given("")))
    return door.view(type(journal), **{**parts_of(journal), "settings": settings})


def _view(door: "Door", journal: "Journal", content: Path, audience: "tuple[Audience, str | None]") -> "View":
    """What the audience may see, with the history of the files where it may see that."""
    from generator.door.door import parts_of
    from generator.read.git import history_of
    from generator.render.audience import history_for, view

    seen = view(journal, *audience, door)
    if not seen.shows_history:
        return seen
    given = door.given("history", {"": history_of(content)})
    return door.view(
        type(seen), **{**parts_of(seen), "history": door.one("history as seen", lambda: history_for(seen, given("")))}
    )


def _pictures(
    content: Path, door: "Door", seen: "View", marked: Callable[[str], object], tell: Callable[[str], None]
) -> "tuple[Mapping[str, Picture], Mapping[str, bytes], Callable[[], dict[str, str]]]":
    """The small copies of the photos that a site shows: by photo, their files by address; why others are refused."""
    from generator.publish.assets import small_copies
    from generator.render.base.texts import all_shown, photos_shown

    def copied(name: str) -> "Album":
        marked(name)
        tell(f"copying {name}")
        album = small_copies(content, [name], cache())
        tell("")
        return album

    copies = door.step("copies", copied, keep=False)
    every = all_shown(door, seen.corals, seen.entries, "seen ")
    shown = door.one("photos shown", lambda: photos_shown(every()))
    named = door.one("files of photos", lambda: {each: name for name in shown() for each in copies(name).files})
    sound = door.step("is a picture", lambda name: bool(copies(name).pictures))
    by_photo = door.each("picture", lambda: filter(sound, shown()), lambda name: copies(name).pictures[name])
    files = door.each("photo file", named, lambda address: copies(named()[address]).files[address], keep=False)
    why = door.one("refused photos", lambda: {each: why for id in shown() for each, why in copies(id).refused.items()})
    return by_photo, files, why
