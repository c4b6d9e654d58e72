"""The program's modules, each parsed once for all tests that look into them."""

import ast
from functools import cache
from pathlib import Path

HOUSE = Path(__file__).parents[1] / "generator"
MODULES = sorted(HOUSE.rglob("*.py"))


@cache
def tree(path: Path) -> ast.Module:
    return ast.parse(path.read_text(encoding="utf-8"))


@cache
def nodes(path: Path) -> tuple[ast.AST, ...]:
    """Every node of a module, inside functions too."""
    return tuple(ast.walk(tree(path)))
