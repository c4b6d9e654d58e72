"""What the type checker says of a mutant: CI asks it before the tests."""

import ast
import subprocess
import sys
from functools import cache
from pathlib import Path

from tests.mutation.mutants import Mutant, source_of


def new_mistake(root: Path, mutant: Mutant) -> str:
    """The first mistake in types that a mutant makes, or nothing."""
    same = _mistakes(root, mutant.file, ast.unparse(ast.parse((root / mutant.file).read_text("utf-8"))))
    return next((each for each in _mistakes(root, mutant.file, source_of(root, mutant)) if each not in same), "")


@cache
def _mistakes(root: Path, file: str, text: str) -> tuple[str, ...]:
    """What is said of a file if this were its text. Without its comments; so what they allow is said of both texts."""
    folder = root / ".cache" / "mutation"
    shadow = folder / "shadow.py"
    shadow.write_text(text, "utf-8")
    options = ["--cache-dir", str(folder / "types"), "--no-error-summary", "--shadow-file", file, str(shadow)]
    said = subprocess.run([sys.executable, "-m", "mypy", *options, file], cwd=root, capture_output=True, text=True)
    return tuple(line for line in said.stdout.splitlines() if ": error: " in line)
