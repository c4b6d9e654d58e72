"""`corallite completion`: what a shell needs to complete commands, options, and the names of a journal's files."""

import argparse
from collections.abc import Iterator
from dataclasses import dataclass

from generator.commands import COMMANDS

EXAMPLES = """\
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


@dataclass(frozen=True, slots=True)
class _Word:
    """What one command takes: an option by its names, or an argument without any; what its value may be."""

    names: tuple[str, ...]
    about: str
    takes: bool
    values: tuple[str, ...]
    folders: str

    def offered(self, names: str) -> str:
        """What a shell can offer in its place; `names` is how that shell asks for the names in some folders."""
        return " ".join([*self.values, *([names.format(self.folders)] if self.folders else [])])


def arguments(parser: argparse.ArgumentParser) -> None:
    """Declare the command's words."""
    parser.add_argument("shell", choices=("bash", "zsh", "fish"), help="the shell to write it for")


def run(args: argparse.Namespace) -> int:
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
