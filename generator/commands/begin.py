"""`corallite begin`: a journal of one's own, in a git repository that publishes it; `demo`: a copy of the demo's."""

import argparse
import importlib.resources
import json
import os
import re
import shutil
import subprocess
import sys
from collections.abc import Iterable, Mapping
from contextlib import suppress
from importlib.metadata import PackageNotFoundError, distribution
from pathlib import Path
from typing import TYPE_CHECKING
from urllib.parse import unquote, urlsplit

from msgspec import Struct

from generator.commands.terminal import NOTHING, Stop, print_done, stopping

if TYPE_CHECKING:
    from generator.units.quantity import Quantity

# Two ways to name a remote on a forge (git-fetch(1), "GIT URLS", from memory): the host, a port of HTTPS, the path.
_REMOTES = (
    re.compile(r"(?:https://(?:[^@/]+@)?([\w.-]+(?::\d+)?)|ssh://(?:[^@/]+@)?([\w.-]+)(?::\d+)?)/([\w./~+-]+)"),
    re.compile(r"(?:[^@/:]+@)?([\w-]+(?:\.[\w-]+)+)():([\w~+-][\w./~+-]*)"),
)


def installed_from() -> str | Path:
    """An address for pip, `corallite[heic] @ git+URL@COMMIT`; or the wheel's file. "" if neither is known."""
    with suppress(PackageNotFoundError, ValueError, OSError):
        told = json.loads(distribution("corallite").read_text("direct_url.json") or "{}")
        if "vcs_info" in told:
            return _address(told["url"], told["vcs_info"]["commit_id"])
        if urlsplit(told.get("url", "")).scheme == "file":
            place = Path(unquote(urlsplit(told["url"]).path))
            if place.suffix == ".whl":
                return place if place.is_file() else ""
            return _address(_git(place, "remote", "get-url", "origin"), _git(place, "rev-parse", "HEAD"))
    return ""


def _address(remote: str, commit: str) -> str:
    # A keeper may have photos of a telephone that writes HEIC; where the site is published they must be readable too.
    return f"corallite[heic] @ git+{url}@{commit}" if (url := _online(remote)) and commit else ""


def _online(remote: str) -> str:
    """The public address of a git remote, without a user or a password; "" if it is none of a forge."""
    found = next(filter(None, (form.fullmatch(remote) for form in _REMOTES)), None)
    return f"https://{found[1] or found[2]}/{found[3].rstrip('/').removesuffix('.git')}" if found else ""


def _git(folder: Path, *words: str) -> str:
    from generator.read.git import CannotAsk, ask

    with suppress(CannotAsk):
        return ask(folder, *words).decode().strip()
    return ""


# Units of bare numbers and of the pages.
_IN_MG_PER_L = dict.fromkeys(("calcium", "magnesium", "nitrate", "phosphate"), "mg/L")
_SHARED = {"alkalinity": "dKH", **_IN_MG_PER_L, "salinity": "psu", "ph": "NBS"}
_UNITS = {
    "metric": {"temperature": "°C", "length": "cm", "mass": "g", "volume": "L", "rate": "mL/day"},
    "us": {"temperature": "°F", "length": "in", "mass": "g", "volume": "gal", "rate": "mL/day"},
}
# How most who write a language, or measure so, write a day.
_DATES = {"de": "day-month-year", "us": "month-day-year", "metric": "year-month-day"}
# Usual ends of the band of temperature, common practice, no source.
_TEMPERATURES = {"metric": ("24 °C", "27 °C"), "us": ("75 °F", "81 °F")}
_GUESS = {"metric": "200 L", "us": "50 gal"}
# A guess may be off by a third, a volume that the keeper gives by a tenth (one standard deviation, our assumption).
_OFF, _OFF_IF_GUESSED = 0.1, 0.3


class _Question(Struct, frozen=True):
    """What is asked at a terminal, if its option is not given."""

    option: str
    words: str
    usual: str


EXAMPLES = """\
  corallite begin my-reef                     ask a few questions, at a terminal
  corallite begin nursery --defaults --keeper Ines --volume '300 L'"""


def arguments(parser: argparse.ArgumentParser) -> None:
    """Declare the command's words and options."""
    parser.add_argument("folder", type=Path, metavar="DIR", help="a new folder, or one that has no journal")
    parser.add_argument("--title", metavar="TEXT", help="the journal's title")
    parser.add_argument("--keeper", metavar="NAME", help="who keeps it")
    parser.add_argument("--system", metavar="NAME", help="the name of the first system")
    parser.add_argument("--volume", metavar="VOLUME", help="the water that is in it: '300 L' or '80 gal'")
    parser.add_argument("--time-zone", metavar="ZONE", help="such as Europe/Lisbon (default: this computer's)")
    parser.add_argument("--language", choices=("en", "de"), help="the language of the pages (default: en)")
    parser.add_argument("--units", choices=tuple(_UNITS), default="metric", help="cm, °C and L, or in, °F and gal")
    parser.add_argument("--corallite", metavar="ADDRESS", help="where the workflow installs Corallite from")
    parser.add_argument("--defaults", action="store_true", help="ask nothing, even at a terminal")


def run(args: argparse.Namespace) -> int:
    """Write the journal's files. Return 1, and write nothing, if there is a journal or an answer cannot be."""
    from generator.commands.writing import write_new

    folder: Path = args.folder
    if (folder / "content").exists():
        raise Stop(f"there is a journal in {folder} already: {folder / 'content'} (name another folder)")
    if around := next((each for each in (folder / "x").resolve().parents if (each / "journal.yaml").exists()), None):
        raise Stop(f"{folder} is in the journal {around} (name a folder outside of it)")
    try:
        answers = _answers(args)
    except (EOFError, KeyboardInterrupt):
        raise Stop(NOTHING) from None
    with stopping(ValueError, wrote=NOTHING):
        files = _files(args, answers)
        there = [name for name in files if os.path.lexists(folder / name)]
        write_new(folder, {name: content for name, content in files.items() if name not in there})
    print_done(args, *(f"kept your own {name}" for name in there))
    print_done(args, f"the journal is in {folder}{_repository(folder, files)}")
    if not (args.corallite or installed_from()):
        print_done(args, "before you publish: write in the workflow where Corallite is installed from (CORALLITE)")
    print_done(args, f"next: cd {folder} && corallite build")
    return 0


def _answers(args: argparse.Namespace) -> dict[str, str]:
    """What the options say, what the keeper answers at a terminal, or what is usual."""
    questions = (
        _Question("title", "Title of the journal", "My reef"),
        _Question("keeper", "Your name, as the site should show it", "A reef keeper"),
        _Question("time_zone", "Time zone", _zone_of_this_computer()),
        _Question("language", "Language of the pages, en or de", "en"),
        _Question("system", "Name of your (first) system", "Reef"),
        _Question("volume", "Water that is really in it; leave it empty if you do not know", ""),
    )
    asks = not args.defaults and sys.stdin.isatty() and sys.stdout.isatty()
    found = {}
    for question in questions:
        given = getattr(args, question.option)
        if given is None and asks:
            given = _asked(question, args)
        found[question.option] = given or question.usual
    return found


def _asked(question: _Question, args: argparse.Namespace) -> str:
    """Ask at the terminal until the answer can be."""
    usual = f" [{question.usual}]" if question.usual else ""
    while True:
        given = input(f"{question.words}{usual}: ").strip()
        try:
            match question.option:
                case "time_zone":
                    _zone(given or question.usual)
                case "language":
                    _language(given or question.usual)
                case "system":
                    _file_of(given or question.usual)
                case "volume":
                    _volume(given, args.units)
            return given
        except ValueError as wrong:
            print(wrong)
        except Stop as wrong:
            print(*wrong.args, sep="\n")


def _volume(given: str, units: str) -> "Quantity":
    from generator.units.quantity import parse_quantity

    return parse_quantity(given or _GUESS[units], "volume", _UNITS[units]["volume"])


def _file_of(name: str) -> str:
    from generator.shorthand.finish import id_of

    if not id_of(name):
        raise Stop(f"'{name}' has no letters for the name of a file (write a name with letters)")
    return id_of(name)


def _files(args: argparse.Namespace, answers: Mapping[str, str]) -> dict[str, bytes]:
    """Every file of the new repository. Raises `Stop`."""
    from generator.exchange.reading import published_schemas
    from generator.read.kinds import schema_texts
    from generator.records.fields import UNREADABLE
    from generator.render.base.words import template_files
    from generator.shorthand.yaml_text import words
    from generator.units.quantity import Quantity

    for answer in answers.values():
        if hidden := UNREADABLE.search(answer):
            raise Stop(f"an invisible character U+{ord(hidden.group()):04X} in an answer (leave it out)")
    id = _file_of(answers["system"])
    volume = _volume(answers["volume"], args.units)
    off = volume.value * (_OFF if answers["volume"] else _OFF_IF_GUESSED)
    low, high = _TEMPERATURES[args.units]
    ours = args.corallite or installed_from()
    wheel = {f".corallite/{ours.name}": ours.read_bytes()} if isinstance(ours, Path) else {}
    blanks = {
        "TITLE": words(answers["title"]),
        "HEADING": " ".join(answers["title"].split()),
        "KEEPER": words(answers["keeper"]),
        "TIME_ZONE": _zone(answers["time_zone"]),
        "REPOSITORY": _repository_line(args.folder / "content"),
        "LANGUAGE": _language(answers["language"]),
        "UNITS": "\n".join(f"  {kind}: {unit}" for kind, unit in {**_SHARED, **_UNITS[args.units]}.items()),
        "DATE_ORDER": _DATES.get(answers["language"]) or _DATES[args.units],
        "SYSTEM": words(answers["system"]),
        "ID": id,
        "VOLUME": str(volume),
        "UNCERTAINTY": str(Quantity(off, volume.unit, "volume", 0 if off >= 1 else 2)),
        "VOLUME_NOTE": "Less than the tank holds: rock and sand take room."
        if answers["volume"]
        else "A guess: measure it, for example by bucket.",
        "LOW_TEMPERATURE": low,
        "HIGH_TEMPERATURE": high,
        "CORALLITE": next((f"./{name}[heic]" for name in wheel), str(ours)),
    }
    texts = {
        "content/journal.yaml": "journal.yaml",
        f"content/systems/{id}.yaml": "system.yaml",
        "README.md": "README.md",
        ".gitignore": "gitignore",
        ".vscode/settings.json": "editor.json",
        ".github/workflows/publish.yaml": "github.yaml",
        ".gitlab-ci.yml": "gitlab.yaml",
    }
    source = template_files() / "begin"
    made = {name: _filled((source / text).read_text(encoding="utf-8"), blanks) for name, text in texts.items()}
    made |= {f"content/.schemas/{name}": text for name, text in {**schema_texts(), **published_schemas()}.items()}
    return wheel | {name: text.encode("utf-8") for name, text in made.items()}


def _filled(text: str, blanks: Mapping[str, str]) -> str:
    for name, value in blanks.items():
        text = text.replace(f"@{name}@", value)
    return text


def _repository_line(content: Path) -> str:
    """The line of journal.yaml with the address of git's remote; one to fill in if there is none on a forge."""
    from pydantic import TypeAdapter, ValidationError

    from generator.records.settings import Branch

    around = next(each for each in content.absolute().parents if each.is_dir())
    address = _online(_git(around, "remote", "get-url", "origin"))
    top = Path(_git(around, "rev-parse", "--show-toplevel")).resolve()
    with suppress(ValidationError, ValueError):
        inside = (content.parent.resolve() / content.name).relative_to(top).as_posix() if address else ""
        names = [_git(around, "symbolic-ref", "--short", "HEAD"), inside]
        branch, folder = (TypeAdapter(Branch).validate_python(name) for name in names)
        return f'repository: {{address: "{address}", branch: {branch}, folder: {folder}}}'
    return '# repository: {address: "https://forge.example/you/reef", folder: content}'


def _zone(name: str) -> str:
    from generator.records.settings import zone_named

    try:
        return zone_named(name).key
    except ValueError as unknown:
        raise Stop(f"{unknown} (write a name such as Europe/Lisbon)") from None


def _language(name: str) -> str:
    if name not in ("en", "de"):
        raise Stop(f"'{name}' is not a language of the pages (write en or de)")
    return name


def _zone_of_this_computer() -> str:
    """The name of this computer's time zone, or UTC."""
    named = os.environ.get("TZ", "").removeprefix(":")
    linked = os.path.realpath("/etc/localtime").partition("/zoneinfo/")[2]
    for name in filter(None, (named, linked)):
        with suppress(ValueError):
            return _zone(name)
    return "UTC"


_TO_ITS_TOP = """
a forge publishes by files at the top of a repository only: move .github and .gitlab-ci.yml there, and have
their commands run in this folder"""


def _repository(folder: Path, files: Iterable[str]) -> str:
    """Make a git repository around the journal, if git is there and none is around it; what to say of it.

    Only the journal's own files are in its first commit, whatever else is in the folder.
    """
    git = shutil.which("git")
    if git is None:
        return "; git is not installed, so there is no repository yet"

    def done(*words: str) -> bool:
        call = [git, "-C", str(folder), *words]
        return subprocess.run(call, stdin=subprocess.DEVNULL, capture_output=True, check=False).returncode == 0

    if done("rev-parse", "--git-dir"):
        at_top = Path(_git(folder, "rev-parse", "--show-toplevel")).resolve() == folder.resolve()
        return f", in the git repository that is there{'' if at_top else _TO_ITS_TOP}"
    if not done("init", "--initial-branch=main"):
        return "; git could not make a repository"
    if done("add", "--force", "--", *files) and done("commit", "--message", "Begin the journal"):
        return ", a git repository with its first commit"
    ask = "git config --global user.name 'Your Name' and git config --global user.email you@example.org"
    return f", a git repository; git does not know your name yet, so nothing is committed (tell it: {ask})"


DEMO_EXAMPLES = """\
  corallite demo content"""


def demo_arguments(parser: argparse.ArgumentParser) -> None:
    """Declare the command's words."""
    parser.add_argument("folder", type=Path, metavar="FOLDER", help="a new folder for the copy")


def demo_run(args: argparse.Namespace) -> int:
    """Copy the demo journal; refuse a folder with more in it than folders."""
    from generator.commands.writing import write_new

    folder, demo = args.folder, demo_journal()
    with stopping(wrote=f"the demo cannot be written to {folder}"):
        if folder.exists() and not all(each.is_dir() for each in (folder, *folder.rglob("*"))):
            raise Stop(f"{folder} {'is not empty' if folder.is_dir() else 'is a file'} (name a new folder)")
        write_new(folder, {str(e.relative_to(demo)): e.read_bytes() for e in demo.rglob("*") if e.is_file()})
    made = f"corallite build --content {folder} --site {folder}-site"
    print_done(args, f"the demo journal is in {folder}; to make its site: {made}")
    return 0


def demo_journal() -> Path:
    """Where the demo journal lies: beside the modules in a wheel, at the top of a checkout."""
    package = Path(str(importlib.resources.files("generator")))
    shipped = package / "demo"
    return shipped if shipped.is_dir() else package.parent / "content"
