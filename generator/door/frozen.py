"""Frozen records with slots, whose classes are made in a third of the time that the library takes.

The library compiles six functions for each class, most of which differ in nothing but names. A build makes hundreds of
classes before it begins. Here one function is compiled, and the others read the fields by name.
"""

import dataclasses
from collections.abc import Callable
from operator import attrgetter
from typing import TYPE_CHECKING, Any, NoReturn

if TYPE_CHECKING:
    from dataclasses import dataclass as dataclass
else:

    def dataclass(**options: bool) -> Callable[[type], type]:
        """`dataclasses.dataclass`, but for a frozen record with slots its class is made here."""
        return _frozen if options == {"frozen": True, "slots": True} else dataclasses.dataclass(**options)


def _frozen(kind: type) -> type:
    own = {*vars(kind)}
    made: type = dataclasses.dataclass(init=False, repr=False, eq=False, slots=True)(kind)
    compared = [each.name for each in dataclasses.fields(made) if each.compare]
    # The last field is read twice: of one name alone, `attrgetter` would give no tuple.
    values: Callable[[Any], Any] = attrgetter(*compared, compared[-1]) if compared else lambda _: ()

    def is_equal(one: Any, other: Any) -> Any:
        return values(one) == values(other) if one.__class__ is other.__class__ else NotImplemented

    methods: dict[str, Callable[..., Any]] = {
        "__init__": _filling(made),
        "__eq__": is_equal,
        "__hash__": lambda one: hash(values(one)),
        "__repr__": _told,
        "__setattr__": _refused,
        "__delattr__": _refused,
        "__getstate__": _state,
        "__setstate__": _restored,
    }
    for name in methods.keys() - own:
        setattr(made, name, methods[name])
    return made


def _filling(made: Any) -> Callable[..., None]:
    """The function that fills a new record of a kind with its values: its code is written for each kind."""
    names: dict[str, Any] = {"put": object.__setattr__, "missing": dataclasses.MISSING}
    takes: dict[bool, list[str]] = {False: ["self"], True: ["*"]}
    lines: list[str] = []
    for each in dataclasses.fields(made):
        given = value = each.name
        default = f"default_{each.name}"
        if each.default is not dataclasses.MISSING:
            names[default], given = each.default, f"{each.name}={default}"
        elif each.default_factory is not dataclasses.MISSING:
            names[default], given = each.default_factory, f"{each.name}=missing"
            default += "()"
            value = f"{default} if {each.name} is missing else {each.name}"
        if each.init:
            takes[bool(each.kw_only)].append(given)
        lines.append(f"put(self, {each.name!r}, {value if each.init else default})")
    if hasattr(made, "__post_init__"):
        lines.append("self.__post_init__()")
    taken = ", ".join([*takes[False], *(takes[True] if takes[True][1:] else [])])
    exec("\n    ".join([f"def fill({taken}):", *lines, "return None"]), names)
    return names["fill"]  # type: ignore[no-any-return]


def _told(one: Any) -> str:
    shown = (f"{each.name}={getattr(one, each.name)!r}" for each in dataclasses.fields(one) if each.repr)
    return f"{one.__class__.__qualname__}({', '.join(shown)})"


def _refused(one: Any, name: str, *_: object) -> NoReturn:
    raise dataclasses.FrozenInstanceError(f"cannot change {name} of {one.__class__.__qualname__}")


def _state(one: Any) -> list[Any]:
    return [getattr(one, each.name) for each in dataclasses.fields(one)]


def _restored(one: Any, state: list[Any]) -> None:
    for each, value in zip(dataclasses.fields(one), state, strict=True):
        object.__setattr__(one, each.name, value)
