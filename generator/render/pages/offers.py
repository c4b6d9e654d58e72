"""What is ready to offer, and which rules the other corals fail, with each rule's threshold and the finding."""

from collections.abc import Iterator
from dataclasses import dataclass

from generator.reckon.trade.offers import Check, Offer, Rule, rules
from generator.records.coral import Coral
from generator.records.source import Source
from generator.render.inline import Link
from generator.render.numbers import plain, say_canonical
from generator.render.page import Frame
from generator.render.pages.approaches import say_days
from generator.render.pages.desk import Desk, frame, section_crumb
from generator.units.quantity import Quantity


@dataclass(frozen=True, slots=True)
class RuleRow:
    """One rule: what it asks, its threshold, and for the keeper how to change it."""

    name: str
    asks: str
    source: str
    key: str


@dataclass(frozen=True, slots=True)
class CheckCell:
    """A coral and one rule."""

    rule: str
    found: str
    passes: bool
    verdict: str
    sources: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class OfferCard:
    """One coral and its rules."""

    coral: Link
    species: str
    state: str
    checks: tuple[CheckCell, ...]


@dataclass(frozen=True, slots=True)
class OffersPage:
    """What is ready; for the keeper also what could be ready and what is not."""

    frame: Frame
    lead: str
    rules: tuple[RuleRow, ...]
    ready: tuple[OfferCard, ...]
    unmarked: tuple[OfferCard, ...]
    held: tuple[OfferCard, ...]
    caution: str


def offers_page(desk: Desk) -> OffersPage:
    """The page: others see what is ready and marked to be offered, the keeper every living coral."""
    words, own = desk.words, desk.view.audience == "own"
    found = [offer for offer in desk.found.offers if offer.coral in desk.view.corals]
    ready = [offer for offer in found if offer.ready and offer.marked]
    return OffersPage(
        frame(desk, words("offers.title"), words("offers.description"), "trades", section_crumb(desk, "trades")),
        words("offers.lead", n=len(ready)),
        tuple(_rule(desk, rule) for rule in rules(desk.view.settings.offers)),
        _cards(desk, ready),
        _cards(desk, [offer for offer in found if own and offer.ready and not offer.marked]),
        _cards(desk, [offer for offer in found if own and not offer.ready]),
        words("cautions.cites"),
    )


def _cards(desk: Desk, found: list[Offer]) -> tuple[OfferCard, ...]:
    return tuple(
        OfferCard(
            desk.to_coral(offer.coral),
            desk.view.corals[offer.coral].species,
            desk.words("offers.marked") if offer.marked else "",
            tuple(_cell(desk, check, desk.view.corals[offer.coral]) for check in offer.checks),
        )
        for offer in found
    )


def _rule(desk: Desk, rule: Rule) -> RuleRow:
    words = desk.words
    asked = rule.unit or rule.threshold
    written = desk.view.settings.offers.length if desk.view.settings.offers else None
    least = _amount(desk, rule, rule.threshold, written)
    asks = words(f"offers.rules.{rule.id}.asks", least=least, n=round(rule.threshold))
    return RuleRow(
        words(f"offers.rules.{rule.id}.name"),
        asks if asked else words("offers.not_asked"),
        str(rule.source) if rule.source else words("offers.usual"),
        rule.key if desk.view.audience == "own" else "",
    )


def _amount(desk: Desk, rule: Rule, value: float, written: Quantity | None = None) -> str:
    """An amount in the rule's unit; a length has the digits it was written with."""
    if rule.unit == "cm":
        return say_canonical(desk.display, desk.words, "length", value, written)
    return desk.words("offers.days", n=round(value)) if rule.unit == "days" else plain(desk.words, value, 0)


def _cell(desk: Desk, check: Check, coral: Coral) -> CheckCell:
    words, rule = desk.words, check.rule
    # The count of corals left of a line may include some that this audience does not see.
    counts = bool(rule.unit) and (rule.id != "corals-left" or desk.view.audience == "own")
    # A rule that is off always passes, and the finding is shown unchanged.
    so = check.passes if rule.unit else bool(check.found)
    written = next((size.length for size in coral.sizes if size.source in check.inputs), None)
    found = _amount(desk, rule, check.found, written) if counts and check.found is not None else ""
    if found and check.by and check.by.likely:
        likely, interval = say_days(desk, check.by)
        found = words("offers.long_enough", length=found, day=likely, interval=interval)
    return CheckCell(
        words(f"offers.rules.{rule.id}.name"),
        found or words(f"offers.rules.{rule.id}.{'passes' if so else 'fails'}"),
        check.passes,
        words("offers.passes" if check.passes else "offers.fails"),
        tuple(_told(desk, check.inputs)) if desk.view.audience == "own" and not check.passes else (),
    )


def _told(desk: Desk, inputs: tuple[Source, ...]) -> Iterator[str]:
    yield from (str(source) for source in sorted(inputs)[:2] if desk.view.tells(source))
