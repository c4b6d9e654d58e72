"""Travel: trips that went well and badly side by side, what they show about containers, and all that is planned."""

from collections.abc import Iterator, Sequence
from datetime import date

from markupsafe import Markup

from generator.reckon.arrivals.expected import ExpectedUptake
from generator.reckon.planned.analysis import PlanFindings
from generator.reckon.trade.analysis import AFTER_DAYS, Condition, ContainerFindings, Outcome, OverTrips
from generator.records.trade import Planned, Trade, soonest_first
from generator.render.base import links
from generator.render.base.blocks import (
    Drawn,
    Figure,
    Fold,
    Items,
    Paragraph,
    Table,
    figures,
    folded,
    group,
    items,
    row,
    section,
)
from generator.render.base.context import PageContext, page, section_crumb
from generator.render.base.links import Inline, Link, Span, bold, joined, small
from generator.render.base.numbers import NBSP, Moment, Shown, listed, plain, shortened, with_unit
from generator.render.base.page import Page
from generator.render.base.scale import Row, drawn_ranges
from generator.render.base.why import to_method, why_of
from generator.render.base.words import ended
from generator.render.pages.shares import drawn_uptakes, uptake_row
from generator.units.quantity import Estimate


def planned_page(ctx: PageContext) -> Page:
    """The index of all that is planned: each sheet, how far it has come, when, and with whom."""
    words = ctx.words
    shown = ctx.plans
    return page(
        ctx,
        "planned",
        "corals",
        drawn_uptakes(ctx, words("planned.uptake"), list(_rows(ctx, shown))),
        items(*(_row(ctx, found) for found in shown), look="plain"),
        crumbs=(section_crumb(ctx, "corals"),),
        lead=words("planned.lead"),
    )


def _rows(ctx: PageContext, plans: Sequence[PlanFindings]) -> Iterator[Row]:
    """What each coral of a plan would add to the uptake of a water, or take away."""
    for found in plans:
        # What leaves together with something else is told by the water it leaves; one that comes alone by its places.
        changes = [
            (name_on(ctx, str(each.event.coral)), after.system, each.step)
            for after in found.afters
            for each in after.events
            if each.step
        ] or [
            (landing.new.name, water.system, water.uptake.alkalinity.estimate)
            for landing in found.landings
            for water in landing.waters
            if isinstance(water.uptake, ExpectedUptake)
        ]
        when = when_of(ctx, found.plan)
        for name, system, step in changes:
            label = ", ".join(filter(None, (name, ctx.view.systems[system].name, when.text if when else "")))
            yield uptake_row(ctx, label, step, "predicted")


def _row(ctx: PageContext, found: PlanFindings) -> Span:
    plan, when = found.plan, when_of(ctx, found.plan)
    said = joined(
        bold(ctx.words(f"planned.stage.{plan.stage}")),
        joined(when, left_words(ctx, found.days), by=", ") if when else "",
        ctx.partner(plan.partner) if plan.partner else "",
        by=" · ",
    )
    return Span(joined(to_sheet(ctx, plan), Span(said, look="note")), "li", id=plan.id)


def name_on(ctx: PageContext, coral: str) -> str:
    """The name of a coral that is here or to come."""
    coming = {new.coral: new.name for plan in ctx.view.plans.values() for new in plan.coming}
    return coming.get(coral) or ctx.to_coral(coral).text


def to_sheet(ctx: PageContext, plan: Planned) -> Link:
    """The way to the sheet of a plan."""
    return ctx.link(links.page_of("plan", plan.id), plan_title(ctx, plan))


def plan_title(ctx: PageContext, plan: Planned) -> str:
    """What a plan is about: the colonies by name, and which way they go."""
    *first, last = (ctx.words(f"planned.title_of.{way}", names=names_in_plan(ctx, plan, way)) for way in plan.ways)
    return " ".join((*map(ended, first), last))


def names_in_plan(ctx: PageContext, plan: Planned, *ways: str) -> str:
    """The colonies that go some ways (all), by name; of one that does not go whole, how many frags."""

    def name(id: str, frags: int | None = None) -> str:
        name = ctx.to_coral(id).text
        return ctx.words("planned.frags", n=frags, name=name) if frags else name

    systems = (ctx.view.systems[move.all_of].name for move in plan.moving if move.all_of)
    every = {
        "coming": [new.name for new in plan.coming],
        "going": [name(given.coral, None if given.whole else given.frags) for given in plan.going],
        "moving": [*(name(move.coral) for move in plan.moving if move.coral), *systems],
    }
    return shortened(ctx, [name for way in ways or plan.ways for name in every[way]])


def when_of(ctx: PageContext, plan: Planned) -> Moment | None:
    """The day or the hour agreed; None while it is only perhaps."""
    if plan.date is None:
        return None
    if plan.date.at is None:
        return ctx.say.day(plan.date.day)
    return ctx.say.moment(plan.date.at)


def left_words(ctx: PageContext, days: int | None) -> str:
    """How many days are left, or how many have gone by."""
    if days is None:
        return ""
    if days < 0:
        return ctx.words("planned.gone_by", n=-days)
    return ctx.words("planned.today") if days == 0 else ctx.words("planned.left", n=days)


def coming_to(ctx: PageContext, system: str) -> Items | str:
    """The colonies agreed to come to a system, each with its sheet and the days left; "" if none is to come."""
    said: list[Inline] = []
    for plan in soonest_first(ctx.view.plans.values()):
        names = [new.name for new in plan.coming if new.system == system]
        if plan.date is not None and names:
            sheet = ctx.link(links.page_of("plan", plan.id), shortened(ctx, names))
            when = joined(sheet, left_words(ctx, (plan.date.day - ctx.today).days), by=", ")
            said.append(joined(when, small(ctx.words("system.answers.its_sheet"))))
    return items(*said, look="plain") if said else ""


def tests_of_arrivals(ctx: PageContext, system: str) -> Iterator[tuple[date, Inline]]:
    """The day of each arrival agreed for a system, and that its sheet says when to test after it.

    The hours are on the sheet alone: a page of the water does not wait for what is foreseen of a plan.
    """
    for plan in soonest_first(ctx.view.plans.values()) if ctx.view.shows_tasks else ():
        names = [new.name for new in plan.coming if new.system == system]
        if plan.date is not None and names:
            sheet = ctx.link(links.page_of("plan", plan.id), ctx.words("next_tests.its_sheet"))
            why = ctx.words("next_tests.arrives", names=shortened(ctx, names))
            said = joined(f"{ctx.words('quantities.alkalinity')}:", small(joined(why, sheet)))
            yield max(plan.date.day, ctx.today), said


_ASK = "corallite journey --colony 31x27x24cm --container 84x62x46cm --duration '9 h' --air '12 °C'"


def travel_page(ctx: PageContext) -> Page:
    """Everything about travel, newest trip first."""
    words, found, writes = ctx.words, ctx.found.trade, ctx.view.writes
    went = [trip.went for trip in found.trips]
    count = words("travel.count", well=went.count("well"), badly=went.count("badly"), other=went.count("not-recorded"))
    coming = [
        joined(to_sheet(ctx, plan), when_of(ctx, plan) or "", by=", ")
        for plan in soonest_first(ctx.view.plans.values())
        if plan.travel
    ]
    by_side, trips = words("travel.side_by_side"), words("travel.trips")
    conditions = tuple(_condition(ctx, each) for each in found.conditions if each.well or each.badly)
    drawn = [_drawn(ctx, each) for each in found.conditions if each.well and each.badly]
    numbers = Table(
        by_side, words.each("travel.condition", "travel.went.well", "travel.went.badly"), conditions, "tall"
    )
    return page(
        ctx,
        "travel",
        "trades",
        section(
            words("travel.coming"),
            items(*coming, look="plain") or (Paragraph(words("travel.none_coming")) if writes else None),
            Fold(words("travel.ask"), (Markup(f'<pre tabindex="0"><code>{_ASK}</code></pre>'),)) if writes else None,
        ),
        section(
            by_side,
            Paragraph(joined(bold(_telling(ctx, found.conditions)), count) if went else "", "lead"),
            group("side-by-side", *drawn),
            Paragraph(words("travel.side_by_side_lead") if went else "", "note"),
            Fold(words("chart.numbers"), (numbers,)) if drawn else numbers,
        ),
        group("caution", items(*(words(f"cautions.{id}") for id in ("cites", "lifting", "no-release")), look="")),
        folded(
            trips,
            Table(
                trips,
                _heads(ctx),
                tuple(_trip(ctx, trip) for trip in reversed(found.trips)),
                "tall",
                tuple(reversed(went)),
            ),
        ),
        section(
            words("travel.containers"),
            figures(*(container_figure(ctx, each) for each in found.containers), look=""),
            lead=words("travel.containers_lead"),
        ),
        Paragraph(words("travel.methods"), "note"),
        row(*(to_method(ctx, id) for id in ("trip-outcomes", "cooling", "journey"))),
        crumbs=(section_crumb(ctx, "trades"),),
    )


def _telling(ctx: PageContext, found: Sequence[Condition]) -> str:
    """Which circumstances were others on every trip that went badly; "" where no two can be compared."""
    both = [(each.id, each.well, each.badly) for each in found if each.well and each.badly]
    apart = [id for id, well, badly in both if badly.low > well.high or badly.high < well.low]
    if not apart:
        return ctx.words("travel.tells_nothing") if both else ""
    return ctx.words("travel.tells", what=listed(ctx, [ctx.words(f"travel.conditions.{id}") for id in apart]))


def has_travel(ctx: PageContext) -> bool:
    """Whether there are journeys to show, and a page of trades that links to them."""
    found, view = ctx.found.trade, ctx.view
    return bool((found.trips or found.containers) and (view.trades or view.shows_offers))


def container_figure(ctx: PageContext, found: ContainerFindings) -> Figure:
    """A container's time constant, and its evidence."""
    words, constant = ctx.words, found.time_constant
    held = say_water(ctx, found.litres)
    learned = words("travel.learned", n=found.legs) if found.legs else words("travel.usual")
    return Figure(
        words("travel.constant", container=found.container, water=held),
        ctx.say.estimate(constant.estimate, words.unit("h")),
        why_of(ctx, constant.method, constant.inputs, constant.parts, words.unit("h")),
        None,
        learned,
    )


def say_water(ctx: PageContext, litres: float) -> str:
    """A volume of water, as exact as a bucket."""
    value = ctx.display.level("volume", litres)
    return ctx.say.number(value, 0 if value >= 10 else 1, ctx.display.unit("volume"))


def say_hours(ctx: PageContext, hours: float) -> str:
    """A time on the road: in minutes below an hour and a half."""
    return ctx.say.number(hours * 60, 0, "min") if hours < 1.5 else ctx.say.number(hours, 1, "h")


def _condition(ctx: PageContext, found: Condition) -> tuple[Inline, ...]:
    """One circumstance, for the trips that went well and those that went badly."""
    name = ctx.words(f"travel.conditions.{found.id}")
    return name, _spread(ctx, found, found.well), _spread(ctx, found, found.badly)


def _spread(ctx: PageContext, found: Condition, spread: OverTrips | None) -> str:
    words = ctx.words
    if spread is None:
        return words("travel.no_trip")
    unit = words.unit(_unit(ctx, found))
    told = _scaled(ctx, found, spread)
    digits = 0 if told.high >= 10.0 else 1
    median, low, high = (plain(words, each, digits) for each in (told.value, told.low, told.high))
    if spread.n == 1:
        return words("travel.one", value=with_unit(median, unit))
    ends = words("methods.range", low=low, high=with_unit(high, unit))
    return words("travel.spread", n=spread.n, value=with_unit(median, unit), ends=ends)


def _drawn(ctx: PageContext, found: Condition) -> Drawn:
    """One circumstance on one scale: its median and ends over the trips that went well, and over those that did not."""
    words, unit = ctx.words, ctx.words.unit(_unit(ctx, found))
    rows = [
        Row(words(f"travel.went.{went}"), Shown(_spread(ctx, found, spread)), _scaled(ctx, found, spread), "measured")
        for went, spread in (("well", found.well), ("badly", found.badly))
        if spread
    ]
    return drawn_ranges(words, words(f"travel.conditions.{found.id}"), unit, rows)


def _scaled(ctx: PageContext, found: Condition, spread: OverTrips) -> Estimate:
    low, value, high = (
        ctx.display.change("temperature", each) if found.id == "changed" else each
        for each in (spread.low, spread.median, spread.high)
    )
    return Estimate(value, low, high, found.unit)


def _unit(ctx: PageContext, found: Condition) -> str:
    return ctx.display.unit("temperature") if found.id == "changed" else found.unit


def _heads(ctx: PageContext) -> tuple[str, ...]:
    words = ctx.words
    what = words.each("travel.trip", "travel.conditions.hours", "trades.container", "trades.water")
    days = (words("trades.after_days", n=n) for n in AFTER_DAYS if n)
    after = words("travel.conditions.changed"), words("trades.on_arrival"), *days
    return *what, *after, *words.each("trades.details", "travel.outcome")


def to_trade(ctx: PageContext, trade: Trade) -> Link:
    """A link to a trade, by its day."""
    return ctx.link(links.page_of("trade", trade.id), ctx.say.on(trade.at))


def _trip(ctx: PageContext, trip: Outcome) -> tuple[Inline, ...]:
    """One past trip."""
    words, display = ctx.words, ctx.display
    change = ""
    if trip.changed is not None:
        change = ctx.say.number(display.change("temperature", trip.changed), 1, display.unit("temperature"))
    details = (
        words("trades.slime") if trip.slime else "",
        words("trades.broken_off", n=trip.broken_off) if trip.broken_off else "",
    )
    trade = ctx.view.trades[trip.trade]
    water = trade.travel.water if trade.travel else None
    return (
        to_trade(ctx, trade),
        ctx.say.written(trade.travel.duration) if trade.travel else say_hours(ctx, trip.hours),
        trip.container or "",
        ctx.say.written(water) if water else "",
        change,
        *(words(f"states.{state}") if state else NBSP for state in trip.states),
        joined(*details, by=", "),
        words(f"travel.went.{trip.went}"),
    )
