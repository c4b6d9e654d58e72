"""Where a record was written, how pydantic reads one, what git knows of its file, and what is wrong in it."""

from collections.abc import Collection, Mapping
from datetime import datetime
from typing import TYPE_CHECKING, Any, Literal, get_type_hints

from msgspec import NODEFAULT, Struct, field
from msgspec.structs import FieldInfo, fields

if TYPE_CHECKING:
    from pydantic import GetCoreSchemaHandler
    from pydantic_core import CoreSchema

# Why git cannot say.
Unknown = Literal["no-git", "no-repository", "not-trusted", "no-commit", "no-answer"]


class Commit(Struct, frozen=True):
    """A commit that changed a file: when its author made it, and the author's name ("" where that is not shown)."""

    at: datetime
    by: str


class History(Struct, frozen=True):
    """Each file's commits by its path below the journal, the newest first.

    `cut_off` are files that are older than the oldest commit of a shallow clone, `uncommitted` those whose text on
    disk is not the last commit's. `unknown` says why there is nothing at all ("" if there is).
    """

    commits: Mapping[str, tuple[Commit, ...]] = field(default_factory=dict)
    cut_off: Collection[str] = frozenset()
    uncommitted: Collection[str] = frozenset()
    unknown: Unknown | Literal[""] = ""


class Source(Struct, frozen=True, order=True):
    """A place in the keeper's files: path relative to the journal's folder, line and column from 1.

    Column 0 stands for the file as a whole.
    """

    file: str
    line: int = 1
    column: int = 1

    def __str__(self) -> str:
        return f"{self.file}:{self.line}"


class Problem(Struct, frozen=True):
    """One thing wrong (or doubtful): where, what, and what to write instead.

    `kind` is a stable short name; every kind has an example among the tests. `also_at` points to the
    second place a problem is about ("first given at …").
    """

    source: Source
    kind: str
    wrong: str
    remedy: str
    also_at: Source | None = None
    severity: Literal["error", "warning"] = "error"

    def __str__(self) -> str:
        doubt = "warning: " if self.severity == "warning" else ""
        also = f"; see {self.also_at}" if self.also_at else ""
        return f"{self.source}: {doubt}{self.wrong}{also} ({self.remedy})"


def in_order(problems: list[Problem]) -> list[Problem]:
    """The problems by file and line, each once."""
    return sorted(dict.fromkeys(problems), key=lambda p: (p.source, p.kind, p.wrong))


class FromFile(Struct, frozen=True):
    """What a mapping in a file says: nothing but its own fields, all of them that have no default, and finite numbers.

    Each field's type says how what is written becomes its value (`fields.py`). What code makes is not checked.
    """

    @classmethod
    def __get_pydantic_core_schema__(cls, source: Any, handler: "GetCoreSchemaHandler") -> "CoreSchema":
        from pydantic_core import core_schema

        hints = get_type_hints(cls, include_extras=True)
        inner = {
            each.name: core_schema.typed_dict_field(_schema_of(each, hints[each.name], handler), required=each.required)
            for each in fields(cls)
        }

        def made(value: Any, validate: Any) -> "FromFile":
            return value if isinstance(value, cls) else cls(**validate(value))

        finite = core_schema.CoreConfig(allow_inf_nan=False)
        read = core_schema.typed_dict_schema(inner, cls=cls, extra_behavior="forbid", config=finite)
        name = f"{cls.__module__}.{cls.__qualname__}:{id(cls)}"
        return core_schema.no_info_wrap_validator_function(made, read, ref=name)


def _schema_of(field: FieldInfo, hint: Any, handler: "GetCoreSchemaHandler") -> "CoreSchema":
    """How a value of a field's type is validated; a struct that no file holds is taken as it is."""
    from pydantic_core import core_schema

    if isinstance(hint, type) and issubclass(hint, Struct) and not issubclass(hint, FromFile):
        return core_schema.json_or_python_schema(core_schema.any_schema(), core_schema.is_instance_schema(hint))
    schema = handler.generate_schema(hint)
    return schema if field.default is NODEFAULT else core_schema.with_default_schema(schema, default=field.default)
