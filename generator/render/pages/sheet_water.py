"""What a newcomer asks of the water: what it takes, pumps in steps, stocks, tests; and the first screen of a sheet."""

from collections.abc import Iterable, Iterator, Sequence
from datetime import datetime, time, timedelta

from generator.reckon.arrivals.expected import ExpectedUptake
from generator.reckon.arrivals.informed import Informed
from generator.reckon.dosing.stocks import of_phases
from generator.reckon.finding import CannotTell, Finding
from generator.reckon.planned.analysis import PlanFindings
from generator.reckon.planned.water import After, InWater, Outcomes, PlanSteps, PumpStep
from generator.reckon.trade.journey import Journey
from generator.reckon.water.demand_events import LEAST_SHARE
from generator.reckon.water.findings import Forecast
from generator.records.system import System
from generator.render.base.blocks import (
    Block,
    Fold,
    Group,
    Items,
    Paragraph,
    Section,
    Table,
    facts,
    figures,
    group,
    items,
    section,
)
from generator.render.base.context import PageContext
from generator.render.base.links import BREAK, Inline, bold, joined, small
from generator.render.base.numbers import forecast_words
from generator.render.base.scale import Row
from generator.render.base.why import cannot, evidence, per_day_figure
from generator.render.pages.change import planned_readings, readings_lead
from generator.render.pages.doses import caution_words, made_of_words, say_litres, supply_name, unmet_words
from generator.render.pages.room import at_place, misfits
from generator.render.pages.shares import drawn_uptakes, foreseen_figures, uptake_row, ways_of
from generator.render.pages.sheet_colony import lifts, moves_of, no_place_words, verdict, views
from generator.render.pages.travel import name_on

# Less a day (litres) is not worth a pump. A choice of ours.
_LEAST = 0.0005
# Nobody tests between these hours. A choice of ours.
_EVENING, _MORNING = 22, 8


def afterwards(ctx: PageContext, found: After) -> Section:
    """One system once all of a plan is done: what changes, its uptake before and after, and what to do then."""
    words, told = ctx.words, evidence(ctx, found.system)
    both = (("before", found.before), ("after", found.after))
    known = [(key, answer) for key, answer in both if isinstance(answer, Finding)]
    unknown = [answer for _, answer in both if isinstance(answer, CannotTell)]
    return section(
        joined(words("sheet.after.title"), ctx.to_system(found.system)),
        items(*(_change(ctx, each) for each in found.events if each.step is not None), look=""),
        None if found.steps or unknown else Paragraph(words("sheet.after.little", share=f"{100.0 * LEAST_SHARE:.0f}")),
        cannot(words, unknown[0]) if unknown else None,
        figures(
            *(per_day_figure(ctx, words(f"sheet.after.{key}"), "alkalinity", answer, told) for key, answer in known)
        ),
        *_steps(ctx.then, ctx.view.systems[found.system], found.steps),
    )


def _change(ctx: PageContext, found: Informed) -> str:
    """What one coral's coming or going is predicted to do."""
    words, step, coral = ctx.words, found.step, str(found.event.coral)
    assert step is not None
    said = ctx.say.per_day("alkalinity", step.size)
    key = "sheet.after.more" if step.value >= 0.0 else "sheet.after.less"
    return words(key, name=name_on(ctx, coral), **said.blanks("step"))


def _a_day(ctx: PageContext, litres: float) -> str:
    if litres < _LEAST:
        return ctx.words("dosing.off")
    return ctx.say.a_day(say_litres(ctx, litres))


def water_choice(ctx: PageContext, colony: str, found: InWater) -> Section:
    """One water a colony could go into: what it would take up there, and what to do about it."""
    words, uptake, told = ctx.words, found.uptake, evidence(ctx, found.system)
    known = uptake if isinstance(uptake, ExpectedUptake) else None
    return section(
        joined(words("sheet.place.takes"), ctx.to_system(found.system)),
        cannot(words, uptake) if isinstance(uptake, CannotTell) else None,
        figures(*foreseen_figures(ctx, known, told)) if known else None,
        Fold(words("changes.ways_title"), (ways_of(ctx, known),), "more") if known else None,
        *_steps(ctx.then, ctx.view.systems[found.system], found.steps, colony),
    )


def _steps(ctx: PageContext, system: System, found: PlanSteps | None, colony: str = "") -> Iterator[Block | None]:
    """What comes if nothing is done, and what to do hour by hour: pumps, stocks, tests and what each means."""
    if found is None:
        return
    words, pumps = ctx.words, ctx.words("sheet.water.pumps")
    heads = words.each("system.solution", "dosing.now", *(f"sheet.water.{step}" for step in ("first", "likely", "cap")))
    rows = tuple(_pump(ctx, system, step) for step in found.pumps)
    caption = f"{pumps}: {', '.join(filter(None, (system.name, colony)))}"
    table = Table(caption, heads, rows, "tall doses")
    yield Paragraph(_unchanged(ctx, found.unchanged))
    yield section(pumps, table, Paragraph(words("sheet.water.pumps_note"), "note") if table else None)
    yield from (Paragraph(left, "note") for left in _unmet(ctx, system, found))
    yield from map(Paragraph, _stocks(ctx, found))
    yield _tests(ctx, found)


def steps_cautions(ctx: PageContext, found: Iterable[tuple[str, PlanSteps | None]]) -> Items:
    """The cautions of dosing by the steps of these systems, each once."""
    dosed = ((ctx.view.systems[id], each.added) for id, each in found if each and each.added.doses)
    told = (said for system, added in dosed for said in caution_words(ctx, of_phases((added,), system)))
    return items(*dict.fromkeys(told), look="cautions")


def _tests(ctx: PageContext, found: PlanSteps) -> Section | None:
    """When to test, when a test can show it, and what each outcome would mean."""
    words, plan = ctx.words, found.plan
    soon = found.test if not (plan and plan.readings and found.test and plan.readings[0].at <= found.test) else None
    is_first = not (plan and plan.readings)
    at = ctx.say.moment(_by_evening(ctx, soon, found.at)).text if soon else ""
    by = words("sheet.water.by" if is_first else "sheet.water.by_before", at=at) if soon else ""
    if soon and soon <= found.at:
        by = words("sheet.water.before")
    planned = planned_readings(ctx, plan) if plan else ()
    rows = (f"{at.text}: {words('sheet.water.test', why=why, odds=odds)}" for at, why, odds in planned)
    return section(
        words("changes.readings"),
        Paragraph(readings_lead(ctx, plan) if plan else ""),
        items(*filter(None, (by, *rows)), look=""),
        items(*(_outcomes(ctx, found.outcomes, found.pumps) if found.outcomes else ()), look=""),
    )


def _by_evening(ctx: PageContext, at: datetime, since: datetime) -> datetime:
    """The evening before, for a test that would be due at night, unless what calls for it is later than that."""
    local = at.astimezone(ctx.display.zone)
    day = local.date() - timedelta(days=1) if local.hour < _MORNING else local.date()
    evening = datetime.combine(day, time(_EVENING), local.tzinfo)
    return evening if since < evening < local else local


def _unchanged(ctx: PageContext, found: Forecast | CannotTell) -> str:
    """What comes of alkalinity if nothing changes; "" if that is not known."""
    if isinstance(found, CannotTell):
        return ""
    said = ", ".join(filter(None, forecast_words(ctx.say, found)))
    quantity = ctx.words("quantities_within.alkalinity")
    return f"{ctx.words('changes.if_unchanged')}: {quantity} {said}."


def _pump(ctx: PageContext, system: System, step: PumpStep) -> tuple[Inline, ...]:
    """What a pump runs at now, from the hour of arrival on, once a test agrees, and never more than."""
    now, first, likely, cap = (_a_day(ctx, litres) for litres in (step.now, step.first, step.likely, step.cap))
    likely = ctx.words("sheet.water.stays") if likely == first else likely
    mended = ctx.words("sheet.glance.once_mended") if step.mended else ""
    made_of = ", ".join(filter(None, (made_of_words(ctx, system, step.supply), mended)))
    name = joined(supply_name(ctx, step.supply), small(made_of))
    return name, now, bold(first), likely, cap


def _unmet(ctx: PageContext, system: System, found: PlanSteps) -> Iterator[str]:
    """What the solutions leave of a rise; where there is none, that there is none."""
    added = found.added
    if found.plan and found.plan.size < 0.0:
        return
    if added.doses or system.solutions:
        yield from unmet_words(ctx, system, added.to_tell)
    elif added.to_tell:
        yield ctx.words("sheet.water.outcome.no_dose")


def _stocks(ctx: PageContext, found: PlanSteps) -> Iterator[str]:
    for stock in found.stocks:
        days = stock.lasts or stock.full_lasts
        key = "sheet.water.stock" if stock.lasts else "sheet.water.stock_full"
        empty = stock.empty.astimezone(ctx.display.zone).date() if stock.empty else None
        yield ctx.words(
            key, supply=supply_name(ctx, stock.solution), n=round(days.value), day=ctx.say.on(empty) if empty else ""
        )


def _outcomes(ctx: PageContext, found: Outcomes, pumps: Sequence[PumpStep]) -> Iterator[str]:
    """What each reading would mean, from the lowest to the highest, and what to do where there is something to dose."""
    words, at, dosed = ctx.words, ctx.say.moment(found.at).text, bool(pumps)
    steps = any(_a_day(ctx, step.likely) != _a_day(ctx, step.first) for step in pumps)

    def level(canonical: float) -> str:
        return ctx.say.canonical("alkalinity", canonical)

    def told(outcome: str, **values: str) -> str:
        said = words(f"sheet.water.outcome.{'rise' if found.rises else 'fall'}.{outcome}", **values)
        do = "all_given" if outcome == "all" and not steps else outcome
        return f"{said} {words(f'sheet.water.outcome.do.{do}')}" if dosed and values else said

    low, high = sorted((found.all, found.half))
    yield told("all", at=at, level=level(found.all))
    yield told("part", low=level(low), high=level(high))
    yield told("little", level=level(found.half), none=level(found.none))
    unit = ctx.display.unit("alkalinity")
    error = ctx.say.deviation(ctx.display.change("alkalinity", found.error), words.unit(unit))
    if found.out:
        yield told("out")
    if found.astray:
        yield told("astray")
    beside = words("sheet.water.outcome.beside", error=error)
    yield f"{beside} {words('sheet.water.outcome.do.beside')}" if dosed else beside


# Of so many colonies each is told alone; of more only how many fit.
_TOLD = 3


def sheet_glance(ctx: PageContext, found: PlanFindings) -> Group:
    """The answers in words, beside a picture of what changes, or of how the one that travels lies."""
    words = ctx.words
    journeys = [each.judged for each in found.passengers if isinstance(each.judged, Journey)]
    risks = [risk for judged in journeys for risk in judged.risks if risk.level != "low"]
    named = dict.fromkeys(
        f"{risk_words(ctx, risk.id, risk.level)}. {words(f'risks.{risk.id}.{risk.level}')}" for risk in risks
    )
    return group(
        "glance",
        facts(
            (words("sheet.rows.fit"), _fit(ctx, found, journeys)),
            (words("sheet.glance.weighs"), joined(*_weights(ctx, found), by=BREAK)),
            (words("risks.title"), joined(*named, by=BREAK)),
            (words("sheet.rows.place"), joined(*_places(ctx, found), by=BREAK)),
            (words("sheet.glance.pumps"), joined(*_pumps_glance(ctx, found), by=BREAK)),
            (words("changes.readings"), joined(*_tests_glance(ctx.then, found), by=BREAK)),
            look="answers",
        ),
        drawn_uptakes(ctx, words("sheet.glance.uptake"), list(_rows(ctx, found))),
        views(ctx, 0, journeys[0]) if pose_first(ctx, found) else None,
    )


def pose_first(ctx: PageContext, found: PlanFindings) -> bool:
    """Whether the picture is how the one that travels lies: no water changes that could be drawn."""
    alone = len(found.passengers) == 1 and isinstance(found.passengers[0].judged, Journey)
    return alone and not any(_rows(ctx, found))


def _fit(ctx: PageContext, found: PlanFindings, journeys: list[Journey]) -> Inline:
    """Whether each fits its container; of many, how many do."""
    if len(journeys) > _TOLD:
        return ctx.words("sheet.glance.fit", n=sum(each.fit.fits for each in journeys), all=len(journeys))
    many = len(found.passengers) > 1
    told = ((each, each.judged) for each in found.passengers if isinstance(each.judged, Journey))
    said = (
        joined(
            f"{each.coral.name}:" if many else "",
            verdict(ctx, judged),
            "" if each.whole else small(f"({ctx.words('sheet.rows.piece')})"),
        )
        for each, judged in told
    )
    return joined(*said, by=BREAK)


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
            yield joined(first, no_place_words(ctx, system))
        else:
            yield joined(first, at_place(ctx, places[0].spot), *map(bold, misfits(ctx, places[0])))
            yield moves_of(ctx, places[0])


def _rows(ctx: PageContext, found: PlanFindings) -> Iterator[Row]:
    """Each water's uptake before and after all of it; or the uptake now, and what the one that comes would add."""
    for each in found.afters:
        if isinstance(each.before, Finding) and isinstance(each.after, Finding):
            yield uptake_row(ctx, _now(ctx, each.system), each.before.estimate, "measured")
            yield uptake_row(ctx, ctx.words("sheet.glance.after"), each.after.estimate, "predicted")
    for landing in () if found.afters else found.landings[:_TOLD]:
        for water in landing.waters:
            if isinstance(water.uptake, ExpectedUptake):
                now = ctx.findings[water.system].uptake.get("alkalinity")
                if now and isinstance(now.per_day, Finding):
                    yield uptake_row(ctx, _now(ctx, water.system), now.per_day.estimate, "measured")
                takes = ctx.words("sheet.glance.takes", name=landing.new.name)
                yield uptake_row(ctx, takes, water.uptake.alkalinity.estimate, "predicted")
                if isinstance(water.after, Finding):
                    with_it = ctx.words("sheet.glance.with", name=landing.new.name)
                    yield uptake_row(ctx, with_it, water.after.estimate, "predicted")


def _now(ctx: PageContext, system: str) -> str:
    return ctx.words("shares.as_it_is", system=ctx.view.systems[system].name)


def risk_words(ctx: PageContext, id: str, level: str) -> str:
    """What can go wrong, and how likely it is."""
    return ctx.words("risks.of", name=ctx.words(f"risks.{id}.name"), level=ctx.words(f"risks.levels.{level}"))


def _weights(ctx: PageContext, found: PlanFindings) -> Iterator[Inline]:
    """What each weighs with its water in the container, or dripping wet, and who lifts it; nothing of many."""
    for each in found.passengers if len(found.passengers) <= _TOLD else ():
        name = f"{each.coral.name}:" if len(found.passengers) > 1 else ""
        in_water = each.judged.lift if isinstance(each.judged, Journey) else None
        lift = in_water or (each.weights.lift if each.weights else None)
        if lift:
            with_what = ctx.words("sheet.glance.with_water" if in_water else "sheet.glance.dripping")
            mass = ctx.say.estimate(lift.mass.scaled(*((1.0, "kg") if lift.mass.value >= 1.0 else (1000.0, "g"))))
            yield joined(name, mass, f"{with_what}.", lifts(ctx, lift))


def _waters(found: PlanFindings) -> list[tuple[str, PlanSteps | None]]:
    """The steps in each water that changes."""
    waters: list[tuple[str, PlanSteps | None]] = [(each.system, each.steps) for each in found.afters]
    return waters + [(each.system, each.steps) for landing in found.landings[:_TOLD] for each in landing.waters]


def _pumps_glance(ctx: PageContext, found: PlanFindings) -> Iterator[Inline]:
    """From what to what each pump is set at the hour of arrival; of many, their own section says it."""
    waters = _waters(found) if len(found.passengers) <= _TOLD else []
    for system, steps in waters:
        for step in steps.pumps if steps else ():
            name = f"{ctx.view.systems[system].name}:" if len(waters) > 1 else ""
            now, first, cap = (_a_day(ctx, litres) for litres in (step.now, step.first, step.cap))
            more = ctx.words("sheet.glance.cap", cap=cap) if step.cap > step.first and cap != first else ""
            said = ctx.words("sheet.glance.pump", supply=supply_name(ctx, step.supply), now=now, first=first)
            mended = ctx.words("sheet.glance.once_mended") if step.mended else ""
            yield joined(name, joined(said, mended, more, by=", "))


def _tests_glance(ctx: PageContext, found: PlanFindings) -> Iterator[Inline]:
    """The first reading that tells how large the change is, in each water."""
    waters = _waters(found)
    for system, steps in waters:
        for at, why, odds in planned_readings(ctx, steps.plan)[:1] if steps and steps.plan else ():
            name = f"{ctx.view.systems[system].name}:" if len(waters) > 1 else ""
            yield joined(name, joined(bold(at), ctx.words("sheet.water.test", why=why, odds=odds), by=": "))
