"""`corallite check`: every mistake in a journal's files, links, pictures and texts; and what else helps to write them.

`tidy` puts files into the house form, `schemas` lets an editor and `completion` a shell know what may be written.
"""

import argparse
from collections.abc import Callable, Iterable, Iterator, Mapping
from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING

from msgspec import Struct

from generator.commands import COMMANDS, remembering
from generator.commands.asking import journal_in, read_journal
from generator.commands.options import add_as_of, add_content, cache
from generator.commands.terminal import NOT_ALL, Stop, counted, doing, print_done, print_problems, sarif, stopping

if TYPE_CHECKING:
    from generator.door.door import Door
    from generator.read.discover import Found
    from generator.read.load import Loaded
    from generator.records.journal import Journal
    from generator.records.source import Problem


def judged(loaded: "Loaded", content: Path, cache: Path, door: "Door | None" = None) -> "list[Problem]":
    """Every problem of the journal loaded from a folder, by file and line; `door` is the one it was loaded through."""
    from generator.door.door import Door
    from generator.records.source import in_order

    # The rest of a journal with mistakes does not come out of steps.
    told = _found_in(loaded, content, cache, door if door and loaded.journal else Door())
    if door:
        door.all_given()
    return in_order([*loaded.problems, *(told() if told else ())])


def _found_in(loaded: "Loaded", content: Path, cache: Path, door: "Door") -> "Callable[[], tuple[Problem, ...]] | None":
    """What is wrong in a journal's texts and pictures."""
    from generator.publish.assets import refused
    from generator.render.base.texts import (
        all_shown,
        dead_links_in,
        photos_out_of_place,
        photos_shown,
        targets_of_links,
    )

    journal = loaded.sound
    if journal is None:
        return None

    def why(photo: str) -> dict[str, str]:
        loaded.marked(photo)
        return refused(content, [photo], cache)

    def problems() -> "tuple[Problem, ...]":
        every = shown()
        there = [photo for photo in photos_shown(every) if photo in journal.photos]
        wrong = {name: reason for photo in there for name, reason in reasons(photo).items()}
        dead = [*map(dead_in_coral, journal.corals), *map(dead_in_entry, journal.entries)]
        in_texts = (problem for each in dead for problem in each)
        return (*in_texts, *photos_out_of_place(every), *no_record(), *unfit(wrong))

    no_record = cannot_leave(loaded, door)
    around = targets_of_links(journal, door)
    shown = all_shown(door, journal.corals, journal.entries)
    dead_in_coral = door.step("dead in coral", lambda id: dead_links_in(journal.corals[id], around()))
    dead_in_entry = door.step("dead in entry", lambda id: dead_links_in(journal.entries[id], around()))
    reasons = door.step("refused", why)
    return door.one("found in texts", problems)


def unfit(pictures: Mapping[str, str]) -> "list[Problem]":
    """A problem for each picture that cannot be copied, from its path and the reason."""
    from generator.publish.assets import NO_READER
    from generator.records.source import Problem, Source

    usual, read_it = "use a JPEG, PNG or WebP, or remove it from the page", "pip install pillow-heif, or use a JPEG"
    return [
        Problem(Source(photo, 1, 0), "picture", f"the picture {reason}", read_it if reason == NO_READER else usual)
        for photo, reason in pictures.items()
    ]


def cannot_leave(loaded: "Loaded", door: "Door") -> "Callable[[], Iterable[Problem]]":
    """What gives a warning for each text that no record of origin can hold: with it, none can be made."""
    from generator.exchange.document import Refused
    from generator.exchange.reading import check_own_text
    from generator.exchange.record_of_origin import OwnText, own_names, own_texts_of
    from generator.records.source import Problem

    def refused(texts: "Iterable[OwnText]") -> "Iterator[Problem]":
        for source, path, text in texts:
            try:
                check_own_text(text, path[-1])
            except Refused as refusal:
                wrong = f"no record of origin can hold this: {refusal.wrong}"
                remedy = "leave out < > { } \\ and `, a sign at the start, and letters that look like others"
                yield Problem(loaded.at(source, *path), "own-text", wrong, remedy, severity="warning")

    if (sound := loaded.sound) is None:
        return tuple
    of_corals = door.in_parts(
        "texts of some corals",
        lambda: sound.corals,
        lambda ids: tuple(refused(text for id in ids for text in own_texts_of(sound.corals[id]))),
    )
    names = door.one("own names", lambda: tuple(refused(own_names(sound))))
    return lambda: [*names(), *(problem for part in of_corals() for problem in part)]


EXAMPLES = """\
  corallite check                             every mistake and every doubt
  corallite check --strict --quiet            nothing if all is well, exit code 1 if not
  corallite check --json                      for editors and forges"""


def arguments(parser: argparse.ArgumentParser) -> None:
    """Declare the command's options."""
    add_content(parser)
    add_as_of(parser)
    parser.add_argument("--strict", action="store_true", help="count warnings as errors")
    parser.add_argument("--json", action="store_true", help="print SARIF 2.1.0, which editors and forges can show")


def run(args: argparse.Namespace) -> int:
    """Print every problem; 1 if there is an error, or with --strict a warning."""
    from generator.read.load import load

    def counted_and_judged(door: "Door") -> tuple[list[tuple[int, str]], "list[Problem]"]:
        loaded = load(args.content, args.as_of or remembering.clock(), door=door)
        problems = judged(loaded, args.content, cache(), door)
        return [] if problems or loaded.journal is None else _things(loaded.journal), problems

    with doing(args, "reading the journal"):
        file = remembering.file_of("check", args.content.resolve())
        things, problems = remembering.with_memory(file, counted_and_judged)
    if args.json:
        print(sarif(problems, args.content))
    else:
        print_problems(problems, args.content)
    if problems and (args.strict or any(problem.severity == "error" for problem in problems)):
        return 1
    if things and not args.json and not args.quiet:
        print(f"no mistakes: {', '.join(counted(number, word) for number, word in things)}")
    return 0


def _things(journal: "Journal") -> list[tuple[int, str]]:
    readings = sum(len(log.readings) for log in journal.logs.values())
    return [(len(journal.systems), "system"), (len(journal.corals), "coral"), (readings, "reading")]


# With these mistakes, no file can be written again as it was meant.
_STOP = ("syntax", "no-journal", "duplicate-key", "later-format")

TIDY_EXAMPLES = """\
  corallite tidy --try                        say what would change
  corallite tidy"""


def tidy_arguments(parser: argparse.ArgumentParser) -> None:
    """Declare the command's options."""
    parser.add_argument("--try", dest="only_try", action="store_true", help="say what would change, and write nothing")
    add_content(parser)


def tidy_run(args: argparse.Namespace) -> int:
    """Rewrite each file that is not in the house form. Return 1 if the journal has errors; then nothing changes."""
    from generator.commands.writing import locked, replace_text
    from generator.read.discover import discover
    from generator.shorthand.yaml_text import house_form

    content: Path = args.content
    number = 0
    if not content.is_dir():
        journal_in(args, datetime.now(UTC))  # says that there is none
    with stopping(ValueError, wrote=NOT_ALL), locked(content):
        loaded = read_journal(args, datetime.now(UTC))
        structural = [each for each in loaded.errors if each.kind in _STOP]
        if structural:
            print_problems(structural, content)
            return 1
        for kind, file in _files(discover(content)):
            before = (content / file).read_bytes().decode("utf-8")
            after, edits = house_form(before, kind, file)
            number += len(edits)
            print_done(args, *(f"{file}:{edit.line}: {edit}" for edit in edits))
            if edits and not args.only_try:
                replace_text(content / file, before, after)
    done = "would change" if args.only_try else "changed"
    print_done(args, f"{done} {counted(number, 'place')}" if number else "every name and unit is in the house form")
    return 0


def _files(found: "Found") -> list[tuple[str, str]]:
    """Every file with quantities in it, and its kind."""
    files = [("journal", found.settings)] if found.settings else []
    files += [(kind, file) for kind, those in found.records.items() for file in those if file.endswith(".yaml")]
    return [*files, *(("logs", file) for those in found.logs.values() for file in those)]


SCHEMAS_EXAMPLES = """\
  corallite schemas"""


def schemas_arguments(parser: argparse.ArgumentParser) -> None:
    """Declare the command's options."""
    add_content(parser)


def schemas_run(args: argparse.Namespace) -> int:
    """Write `.schemas/<kind>.json` in the journal's folder, and those of a record of origin."""
    from generator.commands.writing import write_over
    from generator.exchange.reading import published_schemas
    from generator.read.kinds import schema_texts

    texts = {**schema_texts(), **published_schemas()}
    folder: Path = args.content / ".schemas"
    if not args.content.is_dir():
        raise Stop(f"there is no folder '{args.content}' (give the journal's folder)")
    with stopping(wrote=NOT_ALL):
        write_over(folder, {name: text.encode("utf-8") for name, text in texts.items()})
    print_done(args, f"wrote {len(texts)} schemas to {folder}")
    return 0


COMPLETION_EXAMPLES = """\
  corallite completion bash >> ~/.bashrc
  corallite completion zsh >> ~/.zshrc
  corallite completion fish > ~/.config/fish/completions/corallite.fish"""
# What an argument is called in the help -> the folders whose files have the names that it may be.
_FOLDERS = {
    "SYSTEM": "systems",
    "SYSTEM|CORAL": "systems corals",
    "CORAL": "corals",
    "CORAL|TRADE": "corals trades",
    "PLAN": "plans",
}
# Only names as a journal gives them: a shell would carry out what another name may have in it.
_NAMES = r"""_corallite_names() {
  for folder in "$@"; do ls "content/$folder" 2>/dev/null | sed -n 's/^\([a-z0-9-]*\)\.yaml$/\1/p'; done
}"""
_BASH = """%(names)s
_corallite() {
  local word=${COMP_WORDS[COMP_CWORD]} command=${COMP_WORDS[1]} words=
  [ "$COMP_CWORD" = 1 ] && command=
  case "$command ${COMP_WORDS[COMP_CWORD-1]} $word" in
%(cases)s
  esac
  COMPREPLY=($(compgen -W "$words" -- "$word"))
}
complete -o default -F _corallite corallite"""


class _Word(Struct, frozen=True):
    """What one command takes: an option by its names, or an argument without any; what its value may be."""

    names: tuple[str, ...]
    about: str
    takes: bool
    values: tuple[str, ...]
    folders: str

    def offered(self, names: str) -> str:
        """What a shell can offer in its place; `names` is how that shell asks for the names in some folders."""
        return " ".join([*self.values, *([names.format(self.folders)] if self.folders else [])])


def completion_arguments(parser: argparse.ArgumentParser) -> None:
    """Declare the command's words."""
    parser.add_argument("shell", choices=("bash", "zsh", "fish"), help="the shell to write it for")


def completion_run(args: argparse.Namespace) -> int:
    """Print the shell's text. Return 0."""
    from generator.commands.options import parser_of

    (commands,) = (each for each in parser_of(COMMANDS)._actions if isinstance(each, argparse._SubParsersAction))
    words = {name: list(_words(parser)) for name, parser in commands.choices.items()}
    if args.shell == "zsh":
        print("autoload -U +X compinit bashcompinit && compinit && bashcompinit")
    print("\n".join(_fish(words)) if args.shell == "fish" else _bash(words))
    return 0


def _words(parser: argparse.ArgumentParser) -> Iterator[_Word]:
    for action in parser._actions:
        about = (action.help or "").replace("%%", "%")
        folders = _FOLDERS.get(str(action.metavar), "")
        yield _Word(tuple(action.option_strings), about, action.nargs != 0, tuple(action.choices or ()), folders)


def _bash(words: dict[str, list[_Word]]) -> str:
    cases = [f'    " "*) words="{" ".join(words)}" ;;']
    for command, those in words.items():
        free = []
        for each in those:
            for name in each.names or (command,):
                if each.offered("$(_corallite_names {})"):
                    cases.append(f'    "{command} {name} "*) words="{each.offered("$(_corallite_names {})")}" ;;')
                elif each.takes and each.names:
                    free.append(f'"{command} {name} "*')
        cases += [f"    {' | '.join(free)}) ;;"] if free else []
        cases.append(f'    "{command} "*" -"*) words="{" ".join(name for each in those for name in each.names)}" ;;')
    return _BASH % {"names": _NAMES, "cases": "\n".join(cases)}


def _fish(words: dict[str, list[_Word]]) -> Iterator[str]:
    names = r"string replace -rf '^([a-z0-9-]*)\.yaml$' '$1'"
    yield f"function _corallite_names; for folder in $argv; ls content/$folder 2>/dev/null; end | {names}; end"
    for command, line in COMMANDS.items():
        yield f"complete -c corallite -n __fish_use_subcommand -f -a {command} -d {_quoted(line)}"
        for each in words[command]:
            flags = [f"-l {name[2:]}" if name.startswith("--") else f"-s {name[1:]}" for name in each.names]
            offered = each.offered("(_corallite_names {})")
            flags += ["-r"] if flags and each.takes else []
            flags += [f"-f -a {_quoted(offered)}"] if offered else ["-F"] if "-r" in flags else []
            if flags:
                seen = f"-n '__fish_seen_subcommand_from {command}'"
                yield " ".join(["complete -c corallite", seen, *flags, "-d", _quoted(each.about)])


def _quoted(text: str) -> str:
    return "'" + text.replace("\\", "\\\\").replace("'", "\\'") + "'"
