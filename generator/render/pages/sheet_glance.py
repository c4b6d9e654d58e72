"""The first screen of a plan's sheet: does it fit, where does it go, what will it take up, when to test."""

from collections.abc import Iterator

from generator.reckon.arrivals.expected import ExpectedUptake
from generator.reckon.finding import Finding
from generator.reckon.planned.analysis import PlanFindings
from generator.reckon.planned.steps import Steps
from generator.reckon.trade.journey import Journey
from generator.render.base.blocks import Drawn, Group, facts, group
from generator.render.base.context import PageContext
from generator.render.base.inline import BREAK, Inline, bold, joined
from generator.render.base.scale import Row, ranges
from generator.render.pages.change_foreseen import planned_readings
from generator.render.pages.shares import strip
from generator.render.pages.sheet_place import at_place, misfits, moves_of, nowhere
from generator.render.pages.sheet_way import verdict, views

# Of so many colonies each is told alone; of more only how many fit.
_TOLD = 3


def sheet_glance(ctx: PageContext, found: PlanFindings) -> Group:
    """The answers in words, beside a picture of what changes, or of how the one that travels lies."""
    words = ctx.words
    journeys = [each.judged for each in found.passengers if isinstance(each.judged, Journey)]
    risks = [risk for judged in journeys for risk in judged.risks if risk.level != "low"]
    named = dict.fromkeys(f"{words(f'risks.{risk.id}.name')}: {words(f'risks.levels.{risk.level}')}" for risk in risks)
    rows = list(_rows(ctx, found))
    unit = ctx.say.a_day(ctx.say.unit("alkalinity"))
    return group(
        "glance",
        facts(
            (words("sheet.rows.fit"), _fit(ctx, found, journeys)),
            (words("risks.title"), joined(*named, by=_AND)),
            (words("sheet.rows.place"), joined(*_places(ctx, found), by=BREAK)),
            (words("changes.readings"), joined(*_tests(ctx, found), by=BREAK)),
            look="answers",
        ),
        Drawn("ranges", ranges(words, words("sheet.glance.uptake"), unit, rows) if rows else None),
        views(ctx, 0, journeys[0]) if pose_first(ctx, found) else None,
    )


def pose_first(ctx: PageContext, found: PlanFindings) -> bool:
    """Whether the picture is how the one that travels lies: no water changes that could be drawn."""
    alone = len(found.passengers) == 1 and isinstance(found.passengers[0].judged, Journey)
    return alone and not any(_rows(ctx, found))


_AND = ", "


def _fit(ctx: PageContext, found: PlanFindings, journeys: list[Journey]) -> Inline:
    """Whether each fits its container; of many, how many do."""
    if len(journeys) > _TOLD:
        return ctx.words("sheet.glance.fit", n=sum(each.fit.fits for each in journeys), all=len(journeys))
    many = len(found.passengers) > 1
    told = ((each.coral.name, each.judged) for each in found.passengers if isinstance(each.judged, Journey))
    return joined(*(joined(f"{name}:" if many else "", verdict(ctx, judged)) for name, judged in told), by=BREAK)


def _places(ctx: PageContext, found: PlanFindings) -> Iterator[Inline]:
    """Where each goes, what is wrong there, and what must move first; of many, how many have a place."""
    named = [(each.new.name, each.places, each.new.system) for each in found.landings]
    named += [(ctx.to_coral(each.coral.id).text, each.places, None) for each in found.settlings]
    free = sum(bool(places) and not places[0].stuck for _, places, _ in named)
    if len(named) > _TOLD:
        yield ctx.words("sheet.glance.places", n=free, all=len(named))
        return
    for name, places, system in named:
        first = f"{name}:" if len(named) > 1 else ""
        if not places:
            yield joined(first, nowhere(ctx, system))
        else:
            yield joined(first, at_place(ctx, places[0].spot), *map(bold, misfits(ctx, places[0])))
            yield moves_of(ctx, places[0])


def _rows(ctx: PageContext, found: PlanFindings) -> Iterator[Row]:
    """Each water's uptake before and after all of it; or the uptake now, and what the one that comes would add."""
    for each in found.afters:
        if isinstance(each.before, Finding) and isinstance(each.after, Finding):
            yield strip(ctx, _now(ctx, each.system), each.before.estimate, "measured")
            yield strip(ctx, ctx.words("sheet.glance.after"), each.after.estimate, "predicted")
    for landing in () if found.afters else found.landings[:_TOLD]:
        for water in landing.waters:
            if isinstance(water.uptake, ExpectedUptake):
                now = ctx.findings[water.system].uptake.get("alkalinity")
                if now and isinstance(now.per_day, Finding):
                    yield strip(ctx, _now(ctx, water.system), now.per_day.estimate, "measured")
                takes = ctx.words("sheet.glance.takes", name=landing.new.name)
                yield strip(ctx, takes, water.uptake.alkalinity.estimate, "predicted")


def _now(ctx: PageContext, system: str) -> str:
    return ctx.words("shares.as_it_is", system=ctx.view.systems[system].name)


def _tests(ctx: PageContext, found: PlanFindings) -> Iterator[Inline]:
    """The first reading that tells how large the change is, in each water."""
    waters: list[tuple[str, Steps | None]] = [(each.system, each.steps) for each in found.afters]
    waters += [(each.system, each.steps) for landing in found.landings[:_TOLD] for each in landing.waters]
    for system, steps in waters:
        for at, why, odds in planned_readings(ctx, steps.plan)[:1] if steps and steps.plan else ():
            name = f"{ctx.view.systems[system].name}:" if len(waters) > 1 else ""
            yield joined(name, bold(at), joined(why, odds, by=_AND))
