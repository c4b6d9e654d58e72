"""The type of a field that holds a share, written in per cent."""

import re
from typing import Annotated, Any

from pydantic import BeforeValidator, WithJsonSchema

from generator.records.fields import mistake

_PER_CENT = re.compile(r"(\d{1,2}(?:\.\d+)?) ?%")


def _per_cent(value: Any) -> float:
    if isinstance(value, float):
        return value
    match = _PER_CENT.fullmatch(value.strip()) if isinstance(value, str) else None
    if match is None:
        raise mistake("per-cent", f"'{value}' is not a number of per cent below 100", "write for example 3 %")
    return float(match[1]) / 100.0


# A share, written in per cent.
Share = Annotated[
    float,
    BeforeValidator(_per_cent),
    WithJsonSchema({"type": "string", "pattern": f"^{_PER_CENT.pattern}$", "description": "a share in per cent: 3 %"}),
]
