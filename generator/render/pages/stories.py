"""The explanations that compete for what was read lately, in words with their odds, and the test that parts them."""

from dataclasses import replace
from datetime import timedelta

from generator.reckon.water.findings import Story, Uptake, WaterFindings
from generator.render.blocks import Items, items
from generator.render.inline import Phrase, bold, joined
from generator.render.pages.desk import Desk

# So soon a test is one of the same water, on the spot.
ON_THE_SPOT = timedelta(hours=2)
# Odds of nothing at all below this are not worth a word.
LEAST_ODDS = 0.10


def explanations(desk: Desk, findings: WaterFindings) -> Items:
    """For every quantity for which explanations compete: what may have happened, and which test tells."""
    return items(
        *(
            joined(
                Phrase((bold(desk.words(f"quantities.{uptake.kind}")), ":")),
                explained(desk, uptake),
                bold(which_test(desk, findings, uptake)),
            )
            for uptake in findings.uptake.values()
            if uptake.stories
        ),
        look="outlooks",
    )


def explained(desk: Desk, uptake: Uptake) -> str:
    """The explanations with their odds, as one sentence."""
    words, rivals = desk.words, uptake.stories
    told = [words("stories.with_odds", what=_said(desk, uptake, each), odds=_odds(each.odds)) for each in rivals]
    nothing = 1.0 - sum(each.odds for each in rivals)
    if nothing >= LEAST_ODDS:
        told.append(words("stories.with_odds", what=words("stories.nothing"), odds=_odds(nothing)))
    if len(told) == 1:
        return words("stories.one", what=told[0])
    return words("stories.either", first=told[0], others=words("stories.or").join(told[1:]))


def which_test(desk: Desk, findings: WaterFindings, uptake: Uptake) -> str:
    """The test that parts the two likeliest explanations."""
    words, within = desk.words, desk.words(f"quantities_within.{uptake.kind}")
    if uptake.parted_by is None:
        return words("stories.go_on")
    if uptake.parted_by - findings.as_of <= ON_THE_SPOT:
        return words("stories.test_now", quantity=within)
    return words("stories.test_then", quantity=within, at=desk.say.moment(uptake.parted_by).text)


def _said(desk: Desk, uptake: Uptake, story: Story) -> str:
    words = desk.words
    if story.kind == "wrong-reading":
        return words("stories.wrong-reading", at=desk.say.moment(story.before).text)
    after, before = (desk.say.date(at) for at in (story.after, story.before))
    if story.kind == "worn-pump":
        lacks = f"{max(story.size.value, 0.0):.0f}"
        return words("stories.worn-pump", solution=story.solution, lacks=lacks)
    size, up = story.size, story.size.value >= 0.0
    if not up:
        size = replace(size, value=-size.value, low=-size.high, high=-size.low)
    side = "more" if up else "less"
    if story.kind == "shift":
        amount = desk.say.difference(uptake.kind, size).value
        return words(
            f"stories.shift.{side}", quantity=words(f"quantities_within.{uptake.kind}"), size=amount, before=before
        )
    if story.kind == "stop":
        return words("stories.stop", after=after, before=before)
    return words(f"stories.{story.kind}", size=desk.say.per_day(uptake.kind, size).value, before=before)


def _odds(odds: float) -> str:
    return f"{100.0 * odds:.0f}"
