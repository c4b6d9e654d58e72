"""What fills the words of an alert: its facts, the names of what it is about, what its kind adds, and its number."""

from collections.abc import Callable, Iterator
from datetime import date, datetime

from msgspec.structs import replace

from generator.door.door import grouped
from generator.reckon.attention import Alert
from generator.reckon.attention.alert import Fact, Named
from generator.reckon.attention.water import DOSED_FOR
from generator.reckon.dosing.plan import Plan
from generator.reckon.dosing.pouring import WaterChanges
from generator.reckon.water.deliveries import per_litre
from generator.reckon.water.findings import Latest
from generator.records.log import ALERTS_ABOUT, AlertKind
from generator.render.base.context import PageContext
from generator.render.base.numbers import Shown, in_words, shortened
from generator.render.pages.doses import (
    belongs_to_card,
    change_words,
    lacks,
    plan_waits,
    poured_today,
    say_poured,
    supply_name,
    to_set,
)
from generator.render.pages.next_tests import band_end, day_due, say_when
from generator.render.pages.room import of_safe
from generator.render.pages.travel import left_words, names_in_plan
from generator.render.pages.uptake import explained, which_test
from generator.units.kinds import KINDS
from generator.units.quantity import Estimate, Quantity

_OF_ROOM = ("neighbours-touch", "outgrows-place")


def no_holder_words(ctx: PageContext, line: str) -> str:
    """The words for a line that no partner known to this audience holds."""
    return ctx.words("lines.nobody" if line in ctx.found.holders else "lines.somebody")


def form_by_day(alert: Alert) -> str:
    """Which words fit an alert about room: it is still to come, or has already happened."""
    if alert.kind not in _OF_ROOM:
        return ""
    return "already" if alert.size is not None and alert.size.value <= 0 else "soon"


def blanks_of(ctx: PageContext, alert: Alert) -> dict[str, str]:
    """What fills the words of an alert: its facts, the names of what it is about, and what its kind adds."""
    words, blanks = ctx.words, {name: _fact(ctx, fact) for name, fact in alert.facts.items()}
    if alert.system:
        blanks["system"] = ctx.view.systems[alert.system].name
    match ALERTS_ABOUT[alert.kind]:
        case "quantity":
            blanks["quantity"] = words(f"quantities.{alert.quantity}")
            blanks["quantity_within"] = words(f"quantities_within.{alert.quantity}")
        case "line":
            blanks["name"] = ctx.to_line(alert.subject[0]).text
        case "coral":
            names = [ctx.ties.coral_names[id] for id in alert.subject]
            blanks |= {"name": names[0], "other": names[-1]}
    more = _MORE.get(alert.kind)
    return {**blanks, **more(ctx, alert)} if more else blanks


def _fact(ctx: PageContext, fact: Fact) -> str:
    """A fact in words: moments on the keeper's clock, days in the journal's order, numbers with their units."""
    words = ctx.words
    match fact:
        case None:
            return words("room.open")
        case datetime():
            return ctx.say.moment(fact).text
        case date():
            return ctx.say.on(fact)
        case Quantity():
            return ctx.say.written(fact)
        case Named("partner", id):
            return ctx.partner(id)
        case Named("trade", id):
            return ctx.say.on(ctx.view.trades[id].at)
        case Named(_, id):
            return words(f"edges.{id}")
        case int():
            return in_words(words, str(fact))
    return fact


def _leaving(ctx: PageContext, alert: Alert) -> dict[str, str]:
    """When a level leaves its band, and what to do: the doses of the plan and the test that it counts on."""
    words, test = ctx.words, ctx.findings[alert.system].next_tests.get(alert.quantity)
    days = [each for name in ("likely", "earliest") if isinstance(each := alert.facts[name], date)]
    likely, *earliest = (_near(ctx, max(day, ctx.today)) for day in days)
    if earliest:
        sure = "on" if likely == earliest[0] else "from"
    else:
        declared = ctx.findings[alert.system].uptake[alert.quantity].kit_error.known == "declared"
        sure = "near" if declared else "near_by_no_kit"
    doses = _doses(ctx, alert)
    return {
        "leaves": words(f"alerts.leaving-band.{sure}", likely=likely, earliest="".join(earliest)),
        "how": "dose" if doses else "test" if can_dose(ctx, alert.system) else "undosed",
        "doses": doses,
        "when": say_when(ctx, day_due(ctx, test.at) if test else ctx.today),
    }


def can_dose(ctx: PageContext, system: str) -> bool:
    """Whether there is anything to dose a system with: a solution or a reactor."""
    return bool(ctx.view.systems[system].solutions or ctx.view.log_of(system).effluents)


def _near(ctx: PageContext, day: date) -> str:
    return say_when(ctx, day) if (day - ctx.today).days <= 1 else ctx.say.on(day)


def _missed(ctx: PageContext, alert: Alert) -> dict[str, str]:
    """The doses of the plan, where it pours what was missed today."""
    planned = any(each.solution == alert.facts["solution"] for each in poured_today(ctx, alert.system))
    return {"how": "pour" if planned else "told", "doses": _doses(ctx, alert)}


def _doses(ctx: PageContext, alert: Alert) -> str:
    """What the dosing plan asks for: water to change and when, what is poured by hand today, and what is to be set."""
    words, found = ctx.words, ctx.found.dosing.get(alert.system)
    if alert.quantity not in DOSED_FOR or found is None or not isinstance(found.plan, Plan):
        return ""

    said, change = [], water_to_change(ctx, alert)
    if change:
        said.append(change_words(ctx, ctx.view.systems[alert.system], change, found.plan.as_of))
    said += (
        words("alerts.pour", n=each.portions, amount=say_poured(ctx, each.litres), solution=each.solution)
        for each in poured_today(ctx, alert.system)
        if belongs_to_card(ctx, alert.system, each.solution, alert.quantity)
    )
    return " ".join(filter(None, (*said, _set(ctx, alert))))


def water_to_change(ctx: PageContext, alert: Alert) -> WaterChanges | None:
    """The water changes that a card tells of: those of alkalinity, and of what else they give."""
    found = ctx.found.dosing.get(alert.system)
    change = found.plan.water_change if found and isinstance(found.plan, Plan) else None
    return change if change and alert.quantity in ("alkalinity", *change.gives) else None


def asks_to_test_first(ctx: PageContext, system: str) -> Iterator[str]:
    """The dosed quantities whose cards ask to test the same water once more before anything is done."""
    out = (each for each in ctx.alerts_in(system) if each.kind == "out-of-band" and each.quantity in DOSED_FOR)
    return (each.quantity for each in out if _beyond(ctx, each)["how"] in ("sure", "sure_doses"))


def _set(ctx: PageContext, alert: Alert) -> str:
    """What is to run otherwise than it does, from today, or from when its pump is mended."""
    plan = ctx.found.dosing[alert.system].plan
    if not isinstance(plan, Plan):
        return ""
    return " ".join(
        ctx.words(
            "alerts.set_once_mended" if lacks(plan, dose.supply) else "alerts.set",
            solution=supply_name(ctx, dose.supply),
            rate=rate,
        )
        for dose, rate in to_set(ctx, plan, alert.quantity)
    )


def _if_confirmed(ctx: PageContext, alert: Alert) -> dict[str, str]:
    """The rates that follow once the next test has confirmed a level, for how long, and then: in few words."""
    plan = ctx.found.dosing[alert.system].plan
    assert isinstance(plan, Plan)
    mended = ctx.words("alerts.once_mended")
    first, then = (
        ", ".join(
            f"{supply_name(ctx, dose.supply)} {rate}{mended if lacks(plan, dose.supply) else ''}"
            for dose, rate in to_set(ctx, plan, alert.quantity, step)
        )
        for step in (1, 2)
    )
    if not (first and then):
        return {"doses": first, "for_days": ""}
    for_days = ctx.words("alerts.for_days", n=plan.phases[1].days or 0)
    return {"doses": ctx.words("alerts.then", first=first, then=then), "for_days": f", {for_days}"}


def _explanations(ctx: PageContext, alert: Alert) -> dict[str, str]:
    found = ctx.findings[alert.system]
    uptake = found.uptake[alert.quantity]
    return {"explained": explained(ctx, uptake), "test": which_test(ctx, found, uptake)}


def _beyond(ctx: PageContext, alert: Alert) -> dict[str, str]:
    system, latest = ctx.view.systems[alert.system], ctx.findings[alert.system].latest[alert.quantity]
    # What may be nothing is tested again before a dose follows it, unless the plan cannot wait.
    leads = alert.quantity == "alkalinity"
    waits = leads and plan_waits(ctx, alert.system)
    side = alert.facts["side"]
    told = _if_confirmed(ctx, alert) if waits else {"doses": _doses(ctx, alert), "for_days": ""}
    doses = told["doses"]
    end = band_end(ctx, system.low if side == "low" else system.high, alert.quantity)
    test = ctx.findings[alert.system].next_tests.get(alert.quantity)
    return {
        "when": say_when(ctx, day_due(ctx, test.at) if test else ctx.today),
        "read": ctx.say.reading(latest.reading, latest.value),
        "end": ctx.words(f"alerts.out-of-band.end.{side}", end=end),
        "before": " ".join(("", *_before(ctx, alert, latest))),
        "how": ("waits" if waits else "sure_doses")
        if doses and (leads or not alert.unsure)
        else "unsure"
        if alert.unsure
        else "warmth"
        if alert.quantity == "temperature"
        else "sure",
        **told,
    }


def _before(ctx: PageContext, alert: Alert, latest: Latest) -> Iterator[str]:
    """That the reading before was out as well, and how pumps have been set since."""
    words, found, side = ctx.words, ctx.findings[alert.system], alert.facts["side"]
    of_kind = [each for each in found.readings if each[0].kind == alert.quantity and each[0].at < latest.reading.at]
    end = latest.low if side == "low" else latest.high
    if not of_kind or end is None or not (of_kind[-1][1] < end if side == "low" else of_kind[-1][1] > end):
        return
    reading, value = of_kind[-1]
    read, at, uptake = ctx.say.reading(reading, value), ctx.say.date(reading.at), found.uptake.get(reading.kind)
    if uptake and any(doubt.reading == reading for doubt in uptake.doubtful):
        read = f"{read} ({words('chart.standing.doubtful')})"
    yield words(f"alerts.out-of-band.before.{side}", read=read, at=at)
    solutions = ctx.view.systems[alert.system].solutions
    pumps = ctx.view.log_of(alert.system).until(ctx.as_of).pumps
    rates = grouped((pump.solution, pump) for pump in pumps if per_litre(solutions[pump.solution], alert.quantity))
    for solution, set_to in rates.items():
        then = [pump.rate for pump in set_to if pump.at <= reading.at]
        if then and then[-1] != set_to[-1].rate:
            was, now = (ctx.say.written(rate) for rate in (then[-1], set_to[-1].rate))
            yield words("alerts.out-of-band.set", solution=solution, then=was, now=now)


def _could_return(ctx: PageContext, alert: Alert) -> dict[str, str]:
    """One of those who could give a line back, and how many more: a card has room for one name."""
    names = [ctx.partner(holder.partner) for holder in ctx.found.holders.get(alert.subject[0], ())]
    if not names:
        return {"who": no_holder_words(ctx, alert.subject[0])}
    more = ctx.words("lines.more_holders", n=len(names) - 1) if len(names) > 1 else ""
    return {"who": ctx.words("lines.could_return", who=names[0] + more)}


def _due(ctx: PageContext, alert: Alert) -> dict[str, str]:
    left = alert.facts["days"]
    assert isinstance(left, int)
    late = left < 0
    return {"standing": ctx.words(f"trades.owed.{'overdue' if late else 'left'}", n=abs(left))}


def _planned(ctx: PageContext, alert: Alert) -> dict[str, str]:
    days = alert.facts["days"]
    assert isinstance(days, int)
    return {"names": names_in_plan(ctx, ctx.view.plans[alert.subject[0]]), "left": left_words(ctx, days)}


def _to_look_at(ctx: PageContext, alert: Alert) -> dict[str, str]:
    return {"after": ctx.words("alerts.state-check.after", n=alert.facts["days"])}


def _too_close(ctx: PageContext, alert: Alert) -> dict[str, str]:
    safe = alert.facts["safe"]
    assert isinstance(safe, Quantity)
    assert alert.size is not None
    return {"gap": of_safe(ctx, alert.size.value, safe.canonical()), "safe": ctx.say.length(safe.canonical())}


def _predicted(ctx: PageContext, alert: Alert) -> dict[str, str]:
    names = {"name": shortened(ctx, [ctx.ties.coral_names[id] for id in alert.subject])}
    return names if alert.facts["tells"] else {**names, "tells": ctx.words("alerts.predicted.daily")}


# What the words of a kind need beside its facts.
_MORE: dict[AlertKind, Callable[[PageContext, Alert], dict[str, str]]] = {
    "two-explanations": _explanations,
    "leaving-band": _leaving,
    "out-of-band": _beyond,
    "line-at-risk": _could_return,
    "missed-dose": _missed,
    "owed": _due,
    "planned": _planned,
    "state-check": _to_look_at,
    "too-close": _too_close,
    "predicted": _predicted,
}


def size_of(ctx: PageContext, alert: Alert) -> Shown | None:
    """The number behind an alert: how far beyond, of a level, of a change per day, or in a unit of its own."""
    words, size = ctx.words, alert.size
    if alert.kind == "doubtful-reading":
        for doubt in ctx.findings[alert.system].uptake[alert.quantity].doubtful:
            if doubt.reading.source in alert.inputs:
                expected = ctx.say.level(alert.quantity, doubt.expected)
                value = ctx.say.reading(doubt.reading, doubt.value)
                return Shown(value, words("alerts.doubtful-reading.expected", interval=expected.interval))
    if size is None:
        return None
    if alert.unsure:
        level = ctx.findings[alert.system].latest[alert.quantity].value
        low, high = (level + end - size.value for end in (size.low, size.high))
        return ctx.say.level(alert.quantity, replace(size, value=level, low=low, high=high))
    if size.value < 0 and (alert.kind == "out-of-band" or form_by_day(alert) == "already"):
        size = Estimate(-size.value, -size.high, -size.low, size.unit, size.level)
    if size.unit == "cm":
        return ctx.say.level("length", size)
    if size.unit.endswith("/day"):
        return ctx.say.per_day(alert.quantity or "alkalinity", size)
    if not alert.quantity or size.unit != KINDS[alert.quantity].canonical:
        return ctx.say.estimate(size)
    return ctx.say.difference(alert.quantity, size)
