"""`corallite demo`: a copy of the demo journal to start with, or to look at."""

import argparse
import importlib.resources
import shutil
import sys
from pathlib import Path

from generator.commands.terminal import print_done

EXAMPLES = """\
  corallite demo content"""


def arguments(parser: argparse.ArgumentParser) -> None:
    """Declare the command's words."""
    parser.add_argument("folder", type=Path, metavar="FOLDER", help="a new folder for the copy")


def run(args: argparse.Namespace) -> int:
    """Copy the demo journal; refuse a folder that already holds something."""
    folder: Path = args.folder
    try:
        if folder.exists() and (not folder.is_dir() or any(folder.iterdir())):
            print(f"{folder} is not empty (name a new folder)", file=sys.stderr)
            return 1
        shutil.copytree(demo_journal(), folder, dirs_exist_ok=True)
    except OSError as error:
        print(f"the demo cannot be written to {folder}: {error.strerror or error}", file=sys.stderr)
        return 1
    made = f"corallite build --content {folder} --site {folder}-site"
    print_done(args, f"the demo journal is in {folder}; to make its site: {made}")
    return 0


def demo_journal() -> Path:
    """Where the demo journal lies: beside the modules in a wheel, at the top of a checkout."""
    package = Path(str(importlib.resources.files("generator")))
    shipped = package / "demo"
    return shipped if shipped.is_dir() else package.parent / "content"
