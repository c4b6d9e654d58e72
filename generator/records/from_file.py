"""Structs that hold what files say: pydantic checks a mapping of written values, and tells every mistake in it."""

from typing import TYPE_CHECKING, Any, get_type_hints

from msgspec import NODEFAULT, Struct
from msgspec.structs import FieldInfo, fields

if TYPE_CHECKING:
    from pydantic import GetCoreSchemaHandler
    from pydantic_core import CoreSchema


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
