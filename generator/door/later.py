"""Modules that are loaded when something of them is first used: a build that changes one page needs few of them."""

import sys
from importlib import import_module
from importlib.util import LazyLoader, find_spec, module_from_spec
from types import ModuleType


def later(name: str) -> ModuleType:
    """A module by its full name, loaded once one of its names is asked for."""
    if name in sys.modules:
        return sys.modules[name]
    spec = find_spec(name)
    if spec is None or spec.loader is None:
        return import_module(name)
    spec.loader = LazyLoader(spec.loader)
    module = sys.modules[name] = module_from_spec(spec)
    spec.loader.exec_module(module)
    package, _, last = name.rpartition(".")
    setattr(sys.modules[package], last, module)
    return module
