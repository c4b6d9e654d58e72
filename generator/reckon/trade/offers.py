"""What is ready to offer: each coral against every rule, so that a keeper sees which one holds it back."""

from collections.abc import Collection, Mapping
from dataclasses import dataclass
from datetime import date
from typing import Literal

from generator.reckon.growth.health import state_of
from generator.records.coral import Coral
from generator.records.settings import Offers
from generator.records.source import Source

METHOD = "ready-to-offer"

RuleId = Literal["out-of-quarantine", "well", "healed", "here-for", "length", "pieces-left"]


@dataclass(frozen=True, slots=True)
class Rule:
    """One rule: what it asks, the least that passes, and where the keeper wrote it (None: our usual threshold)."""

    id: RuleId
    threshold: float
    unit: str
    source: Source | None = None


@dataclass(frozen=True, slots=True)
class Check:
    """A coral against one rule. `found` is in the rule's unit; None where nothing is written that tells."""

    rule: Rule
    found: float | None
    passes: bool
    inputs: tuple[Source, ...] = ()


@dataclass(frozen=True, slots=True)
class Offer:
    """A living coral and how it stands; `marked` where its keeper offers it."""

    coral: str
    marked: bool
    checks: tuple[Check, ...]
    method: str = METHOD

    @property
    def ready(self) -> bool:
        """Whether it meets every rule."""
        return all(check.passes for check in self.checks)

    @property
    def failing(self) -> tuple[Check, ...]:
        """The rules that hold it back."""
        return tuple(check for check in self.checks if not check.passes)


# Common practice, no source: two weeks to heal and grow on, a month to show itself well, the size of a thumb,
# and one of its line that stays.
_USUAL = {"healed": 14.0, "here-for": 30.0, "length": 3.0, "pieces-left": 1.0}


def rules(written: Offers | None = None) -> tuple[Rule, ...]:
    """The rules in their order, with the keeper's thresholds where they wrote any in journal.yaml."""
    source = written.source if written else None
    healed = written.healed_for.canonical() / 24.0 if written and written.healed_for else None
    here = written.here_for.canonical() / 24.0 if written and written.here_for else None
    length = written.length.canonical() if written and written.length else None
    left = float(written.pieces_left) if written and written.pieces_left is not None else None

    def rule(id: RuleId, unit: str, threshold: float | None) -> Rule:
        usual = threshold is None
        return Rule(id, _USUAL[id] if threshold is None else threshold, unit, None if usual else source)

    return (
        Rule("out-of-quarantine", 1.0, "1"),
        Rule("well", 1.0, "1"),
        rule("healed", "days", healed),
        rule("here-for", "days", here),
        rule("length", "cm", length),
        rule("pieces-left", "1", left),
    )


def offers(
    corals: Mapping[str, Coral], as_of: date, written: Offers | None = None, at_risk: Collection[str] = ()
) -> tuple[Offer, ...]:
    """Every coral that lives here on a day, against every rule; the marked first, then by id.

    `at_risk` names lines that one loss would end: nothing of such a line is ready, however many stay.
    """
    living = [coral for coral in corals.values() if coral.lives_on(as_of)]
    asked = rules(written)
    found = [
        Offer(coral.id, coral.to_offer, tuple(_check(rule, coral, corals, as_of, at_risk) for rule in asked))
        for coral in living
    ]
    return tuple(sorted(found, key=lambda offer: (not offer.marked, offer.coral)))


def _check(rule: Rule, coral: Coral, corals: Mapping[str, Coral], as_of: date, at_risk: Collection[str]) -> Check:
    if rule.id in ("out-of-quarantine", "well"):
        return _health(rule, coral, as_of)
    if rule.id == "healed":
        return _healed(rule, coral, corals, as_of)
    if rule.id == "here-for":
        days = float((as_of - coral.arrival.at).days)
        return Check(rule, days, days >= rule.threshold, (coral.arrival.source,))
    if rule.id == "length":
        sizes = [size for size in coral.sizes if size.at <= as_of]
        last = max(sizes, key=lambda size: size.at, default=None)
        if last is None:
            return Check(rule, None, False)
        length = last.length.canonical()
        return Check(rule, length, length >= rule.threshold, (last.source,))
    others = [each for each in corals.values() if each.line == coral.line and each is not coral]
    stay = [each for each in others if each.lives_on(as_of)]
    enough = len(stay) >= rule.threshold and coral.line not in at_risk
    return Check(rule, float(len(stay)), enough, tuple(each.source for each in stay))


def _health(rule: Rule, coral: Coral, as_of: date) -> Check:
    state = state_of(coral, as_of)
    if rule.id == "out-of-quarantine":
        held = [state.quarantine] if state.quarantine else []
    else:
        held = [*state.treatments, *state.ailing]
    return Check(rule, 0.0 if held else 1.0, not held, tuple(health.source for health in held))


def _healed(rule: Rule, coral: Coral, corals: Mapping[str, Coral], as_of: date) -> Check:
    """By the days since it was last cut, or cut from its mother; a day written as healed settles it."""
    mother = corals.get(coral.parent or "")
    cut = [cutting for cutting in coral.cuttings if cutting.at <= as_of]
    if mother is not None:
        cut += [cutting for cutting in mother.cuttings if coral.id in cutting.into and cutting.at <= as_of]
    days = [(as_of - cutting.at).days for cutting in cut]
    if coral.arrival.how in ("cutting", "broken-off"):
        days.append((as_of - coral.arrival.at).days)
    if not days:
        return Check(rule, None, True)
    last = min(days)
    fresh = [cutting for cutting in cut if (as_of - cutting.at).days == last]
    written = any(cutting.healed is not None and cutting.healed <= as_of for cutting in fresh)
    inputs = tuple(cutting.source for cutting in fresh) or (coral.arrival.source,)
    return Check(rule, float(last), written or last >= rule.threshold, inputs)
