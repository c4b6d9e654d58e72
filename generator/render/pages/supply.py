"""What a keeper does by a plan beside setting pumps: pour, change water, set the reactor; and what falls short."""

from collections.abc import Iterator
from datetime import datetime

from generator.reckon.dosing.new_water import WaterChanges
from generator.reckon.dosing.plan import Plan
from generator.reckon.dosing.pouring import Pouring
from generator.reckon.dosing.reactor import ReactorSetting
from generator.reckon.dosing.shortfall import OutOfReach, Remedy, Shortfall
from generator.reckon.dosing.survey import DosingFindings
from generator.records.system import System
from generator.render.blocks import Paragraph, Section, Table, section
from generator.render.numbers import plain, with_unit
from generator.render.pages.desk import Desk
from generator.render.pages.doses import say_litres
from generator.render.pages.next_tests import listed
from generator.units.kinds import KINDS

MINUTES_A_DAY = 1440.0


def say_weekday(desk: Desk, at: datetime) -> str:
    """A day to come with the name it has in the week."""
    local = at.astimezone(desk.display.zone)
    day = desk.say.day(local.date()).text
    return desk.words("next_tests.day", weekday=desk.words(f"weekdays.{local.weekday()}"), day=day)


def to_do(desk: Desk, system: System, plan: Plan, found: DosingFindings) -> Iterator[str]:
    """What is to be done by hand, in a sentence each."""
    if plan.water_change is not None:
        yield _change(desk, system, plan.water_change)
    yield from (_pour(desk, each) for each in found.pourings)


def reactor(desk: Desk, found: ReactorSetting | None) -> Section | None:
    """How the reactor is to be set, and the flow for each effluent it may read instead; None without one."""
    if found is None:
        return None
    words = desk.words
    low, high = (desk.say.canonical("alkalinity", end) for end in (found.expected.low, found.expected.high))
    same = abs(found.flow - found.flow_now) < 0.01 * found.flow_now
    said = "dosing.reactor_stays" if same else "dosing.reactor_set"
    rows = tuple((desk.say.canonical("alkalinity", effluent), _flow(desk, flow)) for effluent, flow in found.settings)
    title = words("dosing.reactor_how")
    return section(
        title,
        Paragraph(words(said, flow=_flow(desk, found.flow), low=low, high=high)),
        Paragraph(words("dosing.reactor_table"), "note"),
        Table(title, words.each("dosing.effluent_reads", "dosing.flow_to_set"), rows),
        id="reactor",
    )


def say_short(desk: Desk, system: System, found: Shortfall) -> str:
    """By how much the supplies fall short, and everything that would cover it."""
    kind, litres = found.unmet.kind, system.water.volume.canonical()
    fall = found.unmet.per_day.scaled(1.0 / litres, f"{KINDS[kind].canonical}/day")
    said = desk.say.per_day(kind, fall)
    cures = [_remedy(desk, each) for each in found.remedies]
    if found.by_water is not None:
        cures.append(desk.words("dosing.cover.water", **_changed(desk, found.by_water)))
    return desk.words(
        "dosing.short",
        quantity=desk.words(f"quantities.{kind}"),
        amount=said.value,
        interval=said.interval,
        cover="; ".join(cures),
    )


def say_out_of_reach(desk: Desk, found: OutOfReach) -> str:
    """A level that nothing at hand brings up, and how much of what would."""
    kind, change = found.correction.kind, found.correction.change
    said = desk.say.difference(kind, change)
    return desk.words(
        "dosing.out_of_reach",
        quantity=desk.words(f"quantities.{kind}"),
        amount=said.value,
        interval=said.interval,
        grams=_grams(desk, found.grams),
        what=_compound(found.compound),
        days=desk.words("dosing.days", n=found.days),
    )


def _grams(desk: Desk, grams: float) -> str:
    return with_unit(plain(desk.words, grams, 0 if grams >= 10.0 else 1), desk.words.unit("g"))


def _compound(name: str) -> str:
    """A compound as it is written in running text, water of crystals behind its dot."""
    return name.replace(".", "·")


def _pour(desk: Desk, found: Pouring) -> str:
    amount, days = say_litres(desk, found.litres), [say_weekday(desk, at) for at in found.at]
    if found.days == 1 and len(days) > 1:
        return desk.words("dosing.pour_daily", solution=found.solution, amount=amount, first=days[0], last=days[-1])
    return desk.words("dosing.pour", solution=found.solution, amount=amount, days=listed(desk, days))


def _change(desk: Desk, system: System, found: WaterChanges) -> str:
    words = desk.words
    level = desk.say.canonical("alkalinity", found.reaches)
    share = f"{100.0 * found.litres / system.water.volume.canonical():.0f}"
    if found.times is not None:
        return words("dosing.change_down", n=found.times, level=level, share=share, **_changed(desk, found))
    key = "dosing.change_keeps" if found.meets else "dosing.change_short"
    return words(key, level=level, share=share, **_changed(desk, found))


def _changed(desk: Desk, found: WaterChanges) -> dict[str, str]:
    rhythm = desk.words("dosing.every_days", n=found.days)
    return {"litres": say_litres(desk, found.litres), "mix": found.mix, "rhythm": rhythm}


def _remedy(desk: Desk, found: Remedy) -> str:
    if found.how == "compound":
        return desk.words("dosing.cover.compound", amount=_grams(desk, found.amount), what=_compound(found.what))
    if found.how == "evaporation":
        return desk.words("dosing.cover.evaporation", amount=say_litres(desk, found.amount), what=found.what)
    return desk.words("dosing.cover.effluent", amount=desk.say.canonical("alkalinity", found.amount))


def _flow(desk: Desk, litres_a_day: float) -> str:
    """A reactor's flow as it is set: by drops a minute, beside litres a day."""
    per_minute = with_unit(
        plain(desk.words, 1000.0 * litres_a_day / MINUTES_A_DAY, 1), desk.words("dosing.ml_a_minute")
    )
    a_day = desk.words("numbers.per_day", unit=say_litres(desk, litres_a_day))
    return desk.words("dosing.flow", minute=per_minute, day=a_day)
