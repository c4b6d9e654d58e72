"""A coral's growth, light, share of the uptake and cutting plan, as its page shows them."""

from collections.abc import Iterator
from datetime import date

from generator.reckon.arrivals.shares import Shares
from generator.reckon.finding import CannotTell, Finding, scaled_parts
from generator.reckon.growth.analysis import SOON_DAYS, Growth
from generator.reckon.growth.corals import CUT_MONTHS, PIECE_CM, CoralFindings
from generator.reckon.growth.cutting import CuttingPlan, demand_of_all_after
from generator.reckon.growth.forecast import Spread
from generator.reckon.growth.light import LightMove
from generator.records.coral import Coral
from generator.render.base.blocks import Block, Figure, Paragraph, Section, Table, figures, group, items, row, section
from generator.render.base.context import Desk
from generator.render.base.forecast_words import what_if_words
from generator.render.base.inline import Link, Span, joined
from generator.render.base.numbers import plain, say_estimate, with_unit
from generator.render.base.why import cannot, figure, why_of
from generator.render.charts.growth import growth_charts
from generator.render.pages.behind import behind_what_ifs

# The largest cut of a footprint, in percent, that still leaves a colony; our choice.
_MOST_CUT = 50.0


def growth(desk: Desk, coral: Coral, found: CoralFindings) -> Section:
    """How it grew, how fast it will, and whether it slowed."""
    words, fall = desk.words, found.growth.decline
    ahead = figures(*_ahead(desk, found))
    return section(
        words("growth.title"),
        group("caution", Paragraph(_decline(desk, found)), why_of(desk, "growth-decline", fall.inputs))
        if fall
        else None,
        figures(*_grown(desk, found)),
        section(words("growth.ahead"), ahead, lead=words("growth.ahead_note")),
        *(group("anchor", chart) for chart in growth_charts(coral.name, found, desk.display, words)),
        id="growth",
    )


def _grown(desk: Desk, found: CoralFindings) -> Iterator[Figure]:
    """Mass, how fast it grew between its measurements, and all that it grew."""
    words, growth = desk.words, found.growth
    if growth.mass_kind == "skeleton":
        yield figure(desk, words("growth.mass.skeleton"), growth.mass, "mass")
    else:
        yield figure(desk, words("growth.mass.drained"), growth.mass, "mass")
    if isinstance(growth.mass, CannotTell) and not isinstance(found.mass, CannotTell):
        yield figure(desk, words("growth.mass.expected"), found.mass, "mass", words("growth.mass.expected_note"))
    yield figure(desk, words(f"growth.specific.{growth.specific_of}"), growth.specific, note=_between(desk, growth))
    yield figure(desk, words("growth.radial"), growth.radial_extension, "length")
    if isinstance(growth.height_extension, Finding):
        yield figure(desk, words("growth.height"), growth.height_extension, "length")
    if isinstance(growth.grown, Finding):
        yield figure(desk, words("growth.grown"), growth.grown, "mass", words("growth.grown_note"))


def _ahead(desk: Desk, found: CoralFindings) -> Iterator[Figure]:
    """How fast it will grow, as far as its own measurements tell; nothing for one that is no longer here."""
    words, growth = desk.words, found.growth
    if found.ahead is None:
        return
    if isinstance(growth.specific_ahead, Finding):
        label = words(f"growth.specific_ahead.{growth.specific_of}", n=SOON_DAYS // 7)
        yield figure(desk, label, growth.specific_ahead)
    if isinstance(growth.doubling, Finding):
        yield figure(desk, words("growth.doubling"), growth.doubling)
    if isinstance(found.spread, Spread):
        note = words(f"growth.by.{found.spread.known}")
        yield figure(desk, words("growth.radial_ahead", n=CUT_MONTHS), found.extension, "length", note)
    if isinstance(growth.height_ahead, Finding):
        yield figure(desk, words("growth.height_ahead", n=CUT_MONTHS), growth.height_ahead, "length")


def _between(desk: Desk, growth: Growth) -> str:
    """Between which days a rate holds, and how far the weighings behind it are taken to repeat."""
    if growth.between is None or isinstance(growth.specific, CannotTell):
        return ""
    since, until = (desk.say.on(day) for day in growth.between)
    told = desk.words("growth.between", since=since, until=until)
    repeats = growth.repeats
    if growth.specific_of != "mass" or repeats is None:
        return told
    share, low, high = (
        with_unit(plain(desk.words, 100.0 * each, 1), "%") for each in (repeats.share, repeats.low, repeats.high)
    )
    if repeats.known == "written":
        return told + desk.words("growth.repeats.written")
    return told + desk.words(f"growth.repeats.{repeats.known}", share=share, low=low, high=high)


def _decline(desk: Desk, found: CoralFindings) -> str:
    """By how much growth fell and since when; "" if it did not."""
    fall = found.growth.decline
    if fall is None:
        return ""
    day = [desk.say.on(on) for on in (fall.began, fall.earliest, fall.latest)]
    by = say_estimate(desk.words, fall.fell_by, "%")
    ends = [say_estimate(desk.words, end, desk.words.unit(end.unit)).value for end in (fall.before, fall.after)]
    return desk.words(
        "growth.fell",
        by=by.value,
        interval=by.interval,
        before=ends[0],
        after=ends[1],
        day=day[0],
        earliest=day[1],
        latest=day[2],
    )


def light(desk: Desk, found: CoralFindings) -> Section:
    """The daily light at its place, and the weeks in which it gets used to more."""
    words, move = desk.words, found.move
    daily = figures(figure(desk, words("light.daily"), found.light)) if found.light else None
    moved: tuple[Block, ...] = ()
    if daily and isinstance(move, LightMove):
        moved = _step_up(desk, move)
    return section(words("light.title"), daily, *moved, id="light")


def _step_up(desk: Desk, move: LightMove) -> tuple[Block, ...]:
    """The light it had, the light it has now, and the weeks between."""
    words, unit = desk.words, desk.words.unit("mol/m²/day")
    before, after = (with_unit(plain(words, each.value, 1), unit) for each in (move.before, move.after))
    day = desk.say.on(move.at)
    key = "light.step_up" if move.steps else "light.no_steps"
    now = max((step.since for step in move.steps if step.since <= desk.today), default=None)
    rows = tuple(
        (
            joined(desk.say.day(step.since), words("light.now") if step.since == now else "", by=" · "),
            with_unit(plain(words, step.par, 0), words.unit("PAR")),
            with_unit(plain(words, step.daily, 1), unit),
        )
        for step in move.steps
    )
    looks = tuple("now" if step.since == now else "" for step in move.steps)
    return (
        Paragraph(words(key, before=before, after=after, day=day, n=len(move.steps)), "after"),
        why_of(desk, "light-steps", move.inputs),
        Table(words("light.plan"), words.each("light.since", "light.par", "light.daily"), rows, looks=looks),
    )


def uptake(desk: Desk, coral: Coral, *ways: Link) -> Section:
    """Its share of the uptake in its water, what would change if it went, and what it did to that water."""
    words, place = desk.words, coral.placement_on(desk.today)
    share = _share(desk, coral) if coral.id in desk.found.corals else None
    told = _what_if(desk, coral, place.system) if share and place else ()
    return section(
        words("share.title"),
        figures(share),
        group("line-by-line", section(words("shares.what_if"), *told, lead=words("shares.what_if_lead"))),
        row(*ways),
        id="uptake",
        look="" if share else "line-by-line",
    )


def _what_if(desk: Desk, coral: Coral, system: str) -> tuple[Block, ...]:
    shares = desk.found.shares.get(system)
    ifs = [each for each in desk.found.what_if.get(system, ()) if each.coral == coral.id]
    names = {id: each.name for id, each in desk.view.systems.items()}
    said = (line for each in ifs for line in what_if_words(desk.display, desk.words, each, names))
    if not ifs or not isinstance(shares, Shares):
        return (items(*said),)
    others = [id for id, _ in ifs[0].moved if id in desk.view.systems]
    return items(*said), behind_what_ifs(desk, shares, ifs, others, tall=True)


def _share(desk: Desk, coral: Coral) -> Figure | None:
    """Its share of its system's uptake; None if it has no place or does not calcify."""
    place = coral.placement_on(desk.today)
    found = desk.found.shares.get(place.system) if place else None
    if found is None or place is None:
        return None
    label = desk.words("share.label", system=desk.view.systems[place.system].name)
    if isinstance(found, CannotTell):
        return figure(desk, label, found)
    share = found.of(coral.id)
    if share is None:
        return None
    grams = say_estimate(desk.words, share.grams_per_day, desk.words("numbers.per_day", unit=desk.words.unit("g")))
    note = desk.words("share.note", grams=grams.value, interval=grams.interval)
    note = desk.words("share.assumed", note=note) if share.assumed else note
    inputs = tuple(dict.fromkeys((*share.inputs, *found.whole.inputs)))
    part = Finding(share.share.scaled(100.0, "%"), "shares", inputs, scaled_parts(share.parts, 100.0))
    return figure(desk, label, part, note=note)


def cutting_plan(desk: Desk, found: CoralFindings) -> Section | None:
    """What to cut, in words, with cautions; or why there is no answer. None for a coral without a place."""
    words, plan = desk.words, found.cutting
    if plan is None:
        return None
    title = words("cutting.title")
    if not isinstance(plan, CuttingPlan):
        return section(title, cannot(words, plan))
    before = items(*(words(f"cautions.{caution}") for caution in plan.cautions), words("cutting.rules"), look="")
    return section(
        title,
        items(*([words("cutting.nothing", n=CUT_MONTHS)] if plan.nothing else _to_cut(desk, plan))),
        why_of(desk, "cutting-plan", plan.inputs, plan.parts, words.unit("%")),
        group("caution", Paragraph(Span(words("cutting.cautions"), "b")), before) if plan.cautions else None,
    )


def _to_cut(desk: Desk, plan: CuttingPlan) -> Iterator[str]:
    words = desk.words
    part = say_estimate(words, plan.remove, "%")
    yield words("cutting.remove", part=part.value, interval=part.interval, n=CUT_MONTHS)
    if plan.remove.value > _MOST_CUT:
        yield words("cutting.too_much")
    if not isinstance(plan.mass, CannotTell):
        mass = desk.say.level("mass", plan.mass.estimate)
        yield words("cutting.mass", mass=mass.value, interval=mass.interval)
    piece = desk.say.length(PIECE_CM)
    low, high = f"{plan.pieces.low:.0f}", f"{plan.pieces.high:.0f}"
    yield words("cutting.pieces", pieces=f"{plan.pieces.value:.0f}", low=low, high=high, size=piece)
    demand = say_estimate(words, plan.demand.scaled(-1.0, "%"), "%")
    yield words("cutting.uptake", uptake=demand.value, interval=demand.interval)
    yield from _demand_of_system(desk, plan)
    if isinstance(plan.healed_after, Finding):
        healed = plan.healed_after.estimate
        days = words("cutting.days", low=f"{healed.low:.0f}", high=f"{healed.high:.0f}", n=round(healed.value))
        yield words("cutting.healed", days=days)


def _demand_of_system(desk: Desk, plan: CuttingPlan) -> Iterator[str]:
    """What the cut does to its system's uptake; nothing if its share is not known."""
    place = desk.view.corals[plan.coral].placement_on(desk.today)
    shares = desk.found.shares.get(place.system) if place else None
    share = shares.of(plan.coral) if isinstance(shares, Shares) else None
    if share is not None and place is not None:
        told = say_estimate(desk.words, demand_of_all_after(plan.demand, share.share).scaled(-1.0, "%"), "%")
        system = desk.view.systems[place.system].name
        yield desk.words("cutting.uptake_of_system", system=system, uptake=told.value, interval=told.interval)


def state_words(desk: Desk, found: CoralFindings) -> tuple[str, ...]:
    """Its health today: quarantine, treatment, damage that has not healed, its colour."""
    words, state = desk.words, found.health

    def since(on: date) -> str:
        return desk.say.on(on)

    said = []
    if state.quarantine:
        until = state.quarantine.until
        said.append(
            words("state.quarantine_until", since=since(state.quarantine.at), until=since(until))
            if until
            else words("state.quarantine", since=since(state.quarantine.at))
        )
    said += [words("state.treatment", since=since(each.at)) for each in state.treatments]
    said += [words("state.ailing", what=words(f"health.{each.what}"), since=since(each.at)) for each in state.ailing]
    if state.colour:
        said.append(
            words(
                f"state.colour.{state.colour.change}",
                score=state.colour.score,
                before=state.colour.before or "",
                day=since(state.colour.at),
            )
        )
    return tuple(said)
