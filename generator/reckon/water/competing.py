"""Which stories compete to explain what was read lately."""

from datetime import datetime, timedelta

from generator.reckon.estimate.propagate import coverage_factor
from generator.reckon.water.evidence import Evidence
from generator.reckon.water.findings import Story, StoryKind
from generator.reckon.water.ledger import in_days
from generator.reckon.water.rivals import JUMP, STEP, STOP, STRAY
from generator.reckon.water.track import Track
from generator.units.kinds import KINDS
from generator.units.quantity import Estimate

# Stories of so many days compete; one told with odds below the least is not worth a word, and one with the
# highest is as good as sure.
COMPETE_FOR = timedelta(days=21)
LEAST_ODDS = 0.10
SURE = 0.95
NAMES: dict[int, StoryKind | None] = {STRAY: "wrong-reading", JUMP: "shift", STEP: None, STOP: "stop"}
_Z90 = coverage_factor(0.90)


def competing(evidence: Evidence, found: Track, as_of: datetime) -> tuple[Story, ...]:
    """What competes to explain the last weeks, the likeliest first; nothing where what happened is as good as sure."""
    stories: list[Story] = []
    unit = KINDS[evidence.kind].canonical
    expected, error, _ = found.expected()
    for each in found.told((STRAY, JUMP, STEP, STOP), in_days(as_of - COMPETE_FOR), LEAST_ODDS / 4.0):
        before, last = evidence.readings[max(each.index - 1, 0)], evidence.readings[each.index]
        changed = NAMES[each.kind] or ("more" if each.size > 0.0 else "less")
        if each.kind == STRAY:
            off = float(evidence.values[each.index] - expected[each.index])
            size = _interval(off, float(error[each.index]), unit)
        else:
            size = _interval(each.size, each.error, unit if each.kind == JUMP else f"{unit}/day")
        stories.append(Story(changed, before.at, last.at, each.odds, size, (before.source, last.source)))
    return tuple(_joined(stories))


def _joined(stories: list[Story]) -> list[Story]:
    """One story for what differs only in when it happened; only those that are neither unlikely nor sure."""
    found: dict[object, Story] = {}
    for story in stories:
        key = (story.kind, story.before) if story.kind in ("wrong-reading", "shift") else story.kind
        other = found.get(key)
        if other is not None:
            best = max(story, other, key=lambda each: each.odds)
            ends = min(story.after, other.after), max(story.before, other.before)
            inputs = tuple(dict.fromkeys((*other.inputs, *story.inputs)))
            story = Story(story.kind, *ends, min(story.odds + other.odds, 1.0), best.size, inputs)
        found[key] = story
    kept = [story for story in found.values() if story.odds >= LEAST_ODDS]
    return sorted(kept, key=lambda story: -story.odds) if any(story.odds < SURE for story in kept) else []


def _interval(value: float, standard: float, unit: str) -> Estimate:
    return Estimate(value, value - _Z90 * standard, value + _Z90 * standard, unit)
