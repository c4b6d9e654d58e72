"""How every number is calculated, and the numbers of nature in it, taken from the code that calculates them."""

from collections.abc import Iterator
from dataclasses import dataclass

from generator.reckon import constants, constants_of_coral, constants_of_solutions, constants_of_travel
from generator.reckon.arrivals.rates import RATES, Rate
from generator.reckon.constants import Constant
from generator.reckon.growth.safe_distance import BY_GENUS, BY_GROUP, UNKNOWN
from generator.reckon.method import Method
from generator.reckon.methods import METHODS
from generator.render.method_words import constant_in_words, method_in_words
from generator.render.numbers import NBSP, in_signs, say_length, say_written
from generator.render.pages.desk import Desk, Frame, Link, frame
from generator.render.pages.glossary import Term, glossary
from generator.render.search import words_in

CONSTANTS = (*constants.ALL, *constants_of_coral.ALL, *constants_of_solutions.ALL, *constants_of_travel.ALL)


@dataclass(frozen=True, slots=True)
class ConstantRow:
    """One number of nature."""

    name: str
    value: str
    uncertainty: str
    source: str
    known: str


@dataclass(frozen=True, slots=True)
class RateRow:
    """One published rate of calcification of a kind of coral, and what it is counted by."""

    group: str
    basis: str
    value: str
    uncertainty: str
    source: str
    known: str


@dataclass(frozen=True, slots=True)
class GapRow:
    """The safe distance from a genus or a group, and its source."""

    kind: str
    gap: str
    source: str


@dataclass(frozen=True, slots=True)
class MethodsPage:
    """The table of words, methods, numbers of nature, published rates and safe distances."""

    frame: Frame
    contents: tuple[Link, ...]
    terms: tuple[Term, ...]
    methods: tuple[Method, ...]
    constants: tuple[ConstantRow, ...]
    rates: tuple[RateRow, ...]
    gaps: tuple[GapRow, ...]


def methods_page(desk: Desk) -> MethodsPage:
    """The methods and sources page."""
    words = desk.words
    methods = [method_in_words(words, id) for id in METHODS]
    return MethodsPage(
        frame(desk, words("methods.title"), words("methods.description"), "methods"),
        tuple(
            Link(method.name, f"#{method.id}") for method in sorted(methods, key=lambda method: words_in(method.name))
        ),
        glossary(desk),
        tuple(methods),
        tuple(_row(desk, constant) for constant in CONSTANTS),
        tuple(_rate(desk, rate) for rate in RATES),
        tuple(_gaps(desk)),
    )


def _row(desk: Desk, constant: Constant) -> ConstantRow:
    words = desk.words
    unit = f"{NBSP}{words.unit(constant.unit)}" if constant.unit not in ("", "1") else ""
    uncertainty = ""
    if constant.standard is not None:
        uncertainty = f"±{in_signs(words, f'{constant.standard:.3g}')}{unit}"
    elif constant.low is not None and constant.high is not None:
        low, high = (in_signs(words, f"{end:.4g}") for end in (constant.low, constant.high))
        uncertainty = words("methods.range", low=low, high=f"{high}{unit}")
    return ConstantRow(
        constant_in_words(words, constant),
        f"{in_signs(words, f'{constant.value:.7g}')}{unit}",
        uncertainty,
        constant.source,
        _known(desk, constant.known),
    )


def _rate(desk: Desk, rate: Rate) -> RateRow:
    words = desk.words
    group = " ".join((rate.genus, ", ".join(words(f"forms.{form}") for form in rate.forms))).strip()
    unit = f"{NBSP}{words.unit(rate.unit)}"
    return RateRow(
        group or words("methods.any"),
        words("changes.way", basis=words(f"changes.basis.{rate.basis}"), study=words(f"changes.study.{rate.study}")),
        f"{in_signs(words, f'{rate.value:.3g}')}{unit}",
        words(
            "methods.share_within",
            n=f"{100 * rate.level:.0f}",
            low=in_signs(words, f"{rate.low:.3g}"),
            high=f"{in_signs(words, f'{rate.high:.3g}')}{unit}",
        ),
        rate.source,
        _known(desk, rate.known),
    )


def _gaps(desk: Desk) -> Iterator[GapRow]:
    """The keeper's own distances, then the usual ones of genera and of other groups."""
    words, settings = desk.words, desk.view.settings
    for genus, declared in settings.safe_distances.items():
        yield GapRow(genus.capitalize(), say_written(words, declared), words("methods.gap_declared"))
    usual = [(genus, cm) for genus, cm in BY_GENUS.items() if genus.casefold() not in settings.safe_distances]
    usual += [(words(f"groups.{group.replace(' ', '-')}"), cm) for group, cm in BY_GROUP.items()]
    for kind, cm in (*usual, (words("methods.any"), UNKNOWN)):
        yield GapRow(kind, say_length(desk.display, words, cm), words("known.common_practice"))


def _known(desk: Desk, known: str) -> str:
    return desk.words(f"known.{known.replace(' ', '_')}")
