"""What is usual for a form of growth: its surface, its height, and how its skeleton fills its outline."""

from pydantic.dataclasses import dataclass

from generator.nature.table import STRICT, table
from generator.records.coral import Form

Range = tuple[float, float, float]


@dataclass(frozen=True, slots=True, kw_only=True, config=STRICT)
class Shape:
    """The factor M of a form's surface, its height as a share of its diameter, and how its skeleton fills it.

    `thickness` (cm) is skeleton per footprint as if pressed to a slab with its pores; `fill` the share of the canopy
    that it fills. One of the two is given. Ranges are low, typical, high.
    """

    surface: float
    height: Range
    thickness: Range | None = None
    fill: Range | None = None

    def __post_init__(self) -> None:
        """Refuse a range out of order, and a skeleton told twice or not at all."""
        if (self.thickness is None) == (self.fill is None):
            raise ValueError("give either thickness or fill")
        if any(list(each) != sorted(each) for each in (self.height, self.thickness or (), self.fill or ())):
            raise ValueError("a range is low, typical, high")


@dataclass(frozen=True, slots=True, kw_only=True, config=STRICT)
class _Forms:
    source: str
    surface_source: str
    acropora_surface: float
    forms: dict[Form, Shape]


_TABLE = table("forms", _Forms)
SHAPES = _TABLE.forms


def surface_factor(genus: str, form: Form) -> float:
    """Factor M of a colony's surface: 1 flat, 2 hemispheroid, 3 lobate or branching, 4 Acropora.

    Source: EPA/600/R-12/029, table 3-2; which form counts as which is ours.
    """
    factor = SHAPES[form].surface
    return _TABLE.acropora_surface if genus == "Acropora" and factor == 3.0 else factor
