"""Modules that are loaded when something of them is first used: a build that changes one page needs few of them."""

import sys
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from importlib.machinery import ModuleSpec, PathFinder
from importlib.util import LazyLoader
from types import ModuleType


class _Lazily:
    """Finds a module as usual, and has it run once one of its names is asked for."""

    @staticmethod
    def find_spec(name: str, path: Sequence[str] | None = None, target: ModuleType | None = None) -> ModuleSpec | None:
        spec = PathFinder.find_spec(name, path, target)
        if spec is not None and spec.loader is not None:
            spec.loader = LazyLoader(spec.loader)
        return spec


@contextmanager
def later() -> Iterator[None]:
    """Modules imported within it are loaded when they are first used; it takes modules, not names from them."""
    sys.meta_path.insert(0, _Lazily)
    try:
        yield
    finally:
        sys.meta_path.remove(_Lazily)
