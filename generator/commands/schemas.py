"""`corallite schemas`: write the JSON Schema of each kind of file, so that an editor completes and checks."""

import argparse
import sys
from pathlib import Path

from generator.commands.options import add_content
from generator.commands.terminal import print_done

EXAMPLES = """\
  corallite schemas"""


def arguments(parser: argparse.ArgumentParser) -> None:
    """Declare the command's options."""
    add_content(parser)


def run(args: argparse.Namespace) -> int:
    """Write `.schemas/<kind>.json` in the journal's folder, and those of a record of origin."""
    from generator.commands.writing import write_over
    from generator.exchange.schema import published
    from generator.read.kinds import schema_texts

    texts = {**schema_texts(), **published()}
    folder: Path = args.content / ".schemas"
    if not args.content.is_dir():
        print(f"there is no folder '{args.content}' (give the journal's folder)", file=sys.stderr)
        return 1
    try:
        write_over(folder, {name: text.encode("utf-8") for name, text in texts.items()})
    except OSError as error:
        print(f"the schemas cannot be written to {folder}: {error.strerror or error}", file=sys.stderr)
        return 1
    print_done(args, f"wrote {len(texts)} schemas to {folder}")
    return 0
