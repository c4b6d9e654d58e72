"""How every number is made, and the numbers of nature it rests on: made from what computes, so it cannot differ."""

from dataclasses import dataclass

from generator.reckon.constants import ALL, Constant
from generator.reckon.methods import METHODS
from generator.render.numbers import NBSP
from generator.render.pages.desk import Desk, Frame, frame


@dataclass(frozen=True, slots=True)
class MethodCard:
    """One way of reckoning."""

    id: str
    name: str
    paragraph: str
    sources: tuple[str, ...]
    assumptions: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class ConstantRow:
    """One number of nature."""

    name: str
    value: str
    uncertainty: str
    source: str
    known: str


@dataclass(frozen=True, slots=True)
class MethodsPage:
    """Methods, numbers of nature, and how far to trust the site."""

    frame: Frame
    methods: tuple[MethodCard, ...]
    constants: tuple[ConstantRow, ...]


def methods_page(desk: Desk) -> MethodsPage:
    """The methods and sources page."""
    words = desk.words
    return MethodsPage(
        frame(desk, words("methods.title"), words("methods.description"), "methods"),
        tuple(
            MethodCard(method.id, method.name, method.paragraph, tuple(method.sources), tuple(method.assumptions))
            for method in METHODS.values()
        ),
        tuple(_row(desk, constant) for constant in ALL),
    )


def _row(desk: Desk, constant: Constant) -> ConstantRow:
    unit = f"{NBSP}{constant.unit}" if constant.unit not in ("", "1") else ""
    uncertainty = ""
    if constant.standard is not None:
        uncertainty = f"±{constant.standard:.3g}{unit}"
    elif constant.low is not None and constant.high is not None:
        uncertainty = desk.words("methods.range", low=f"{constant.low:.4g}", high=f"{constant.high:.4g}{unit}")
    return ConstantRow(
        constant.name,
        f"{constant.value:.7g}{unit}".replace("-", "\u2212"),
        uncertainty,
        constant.source,
        desk.words(f"known.{constant.known.replace(' ', '_')}"),
    )
