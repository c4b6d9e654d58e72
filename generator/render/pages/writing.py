"""The page that writes lines for the files on the spot, without network or server, and all that its script asks for."""

import math
from collections.abc import Iterator, Sequence
from datetime import datetime
from itertools import chain
from statistics import median
from typing import Any, get_args

from msgspec import Struct

from generator.reckon.water.canonical import band, canonical_precision, in_unit, kit_error
from generator.reckon.water.deliveries import per_litre
from generator.reckon.water.findings import WaterFindings
from generator.reckon.water.when_to_test import far_from_last, readings_ahead
from generator.records.coral import Arrival, Coral, Form, Health
from generator.records.system import Solution, System
from generator.render.base import links
from generator.render.base.blocks import Drawn, Paragraph, section
from generator.render.base.context import PageContext, page
from generator.render.base.links import Link, code, joined
from generator.render.base.page import Page
from generator.render.pages.next_tests import IN_USE, band_end, band_words, is_due
from generator.units.kinds import KINDS, WATER_KINDS
from generator.units.quantity import A_DAY, AT_ONCE, Quantity, bounds

# What a coral's file can have one more of; a new coral has a file of its own.
DEEDS = ("sizes", "weighings", "placements", "cuttings", "health", "photos", "end", "new")
# How a coral leaves a keeper, as far as the shorthand has a word for it.
_ENDS = ("died", "lost", "given", "sold")
# Doses and rates so far back say what is usual.
_BACK = 10


class Amount(Struct, frozen=True):
    """One number to write: the name of its field, what it is called, its unit as pages write it, and what is known.

    `often` stands before all others; of one that is `due` a test is due today. `told` is for the script: what it
    becomes, its unit and step in the files, what it can be and what it was.
    """

    id: str
    label: str
    unit: str
    note: str
    often: bool
    told: dict[str, Any]
    due: bool = False


def amounts(ctx: PageContext, system: System, found: WaterFindings) -> dict[str, tuple[Amount, ...]]:
    """All numbers of a system, by the part of a log's entry that they are for."""
    rate, water = ctx.display.units.get("rate", "mL/day"), ctx.display.units.get("volume", "L")
    return {
        "readings": tuple(_reading(ctx, system, found, kind) for kind in WATER_KINDS),
        "doses": tuple(_dose(ctx, system, id, solution) for id, solution in system.solutions.items()),
        "pumps": tuple(_pump(ctx, system, id, solution, rate) for id, solution in system.solutions.items()),
        "water_change": (_water_change(ctx, system, water),),
    }


def _reading(ctx: PageContext, system: System, found: WaterFindings, kind: str) -> Amount:
    words, latest = ctx.words, found.latest.get(kind)
    wanted = KINDS[kind].unit(ctx.display.units.get(kind, ""))
    unit = wanted.symbol if wanted else KINDS[kind].canonical

    def here(canonical: float) -> float:
        return _rounded(in_unit(kind, canonical, unit))

    error = kit_error(system, latest.reading, found.learned_error(latest.reading.kind)) if latest else None
    digits = latest.reading.value.digits if latest and latest.reading.value.unit == unit else _digits(kind, unit)
    told: dict[str, Any] = {
        "unit": unit,
        "step": _step(10.0**-digits, _kit_step(system, kind, unit)),
        "digits": digits,
        "possible": [_rounded(end) for end in bounds(kind, unit)],
        "band": [None if end is None else here(end) for end in band(system, kind)],
    }
    low, high = band_end(ctx, system.low, kind), band_end(ctx, system.high, kind)
    notes = [band_words(ctx, low, high)] if low or high else []
    if latest:
        values = [value for reading, value in found.readings if reading.kind == kind]
        far = far_from_last(values, error)
        on = ctx.say.date(latest.reading.at)
        notes.insert(0, words("write.last", value=ctx.say.reading(latest.reading, latest.value), day=on))
        told |= {"last": here(latest.value), "day": on}
        told |= {"far": _rounded(abs(here(latest.value + far) - here(latest.value)))} if far else {}
        told["ahead"] = [
            [int(at.timestamp()), here(each.value), here(each.low), here(each.high)]
            for at, each in readings_ahead(found, kind, error)
        ]
    # What is in use is asked for first.
    often = latest.reading.at > found.as_of - IN_USE if latest else bool(notes)
    due = is_due(ctx, system.id, kind)
    label = words(f"quantities.{kind}")
    return Amount(f"{system.id}/readings/{kind}", label, words.unit(unit), "; ".join(notes), often or due, told, due)


def _dose(ctx: PageContext, system: System, id: str, solution: Solution) -> Amount:
    given = [dose for dose in ctx.view.log_of(system.id).doses if dose.solution == id]
    # Who pours by the spoon goes on so: a number meant as teaspoons must not become millilitres.
    poured = KINDS["volume"].unit(given[-1].amount.unit) if given else None
    spoon = poured is not None and poured.kitchen
    unit = poured.symbol if poured and spoon else "mL"
    per = Quantity(1.0, unit, "volume").canonical()
    step = {"step": 0.5, "digits": 1} if spoon else {"step": 5, "digits": 0}
    told: dict[str, Any] = {"unit": unit, **step} | _limits(ctx, system, solution, AT_ONCE, per)
    if solution.stock:
        told["stock"] = solution.stock.canonical() / per
    again, note = _given(ctx, "write.last", [(dose.at, dose.amount) for dose in given], unit, per)
    return Amount(f"{system.id}/doses/{id}", id, ctx.words.unit(unit), note, bool(given), told | again)


def _pump(ctx: PageContext, system: System, id: str, solution: Solution, unit: str) -> Amount:
    rates = [rate for rate in ctx.view.log_of(system.id).pumps if rate.solution == id]
    per = Quantity(1.0, unit, "rate").canonical()
    told: dict[str, Any] = {"unit": unit, "step": 1, "digits": 0} | _limits(ctx, system, solution, A_DAY, per)
    again, note = _given(ctx, "write.pump", [(rate.at, rate.rate) for rate in rates], unit, per)
    told |= again
    told |= {"step": 10.0 ** -again["digits"]} if 0.0 < again.get("last", 0.0) < 1.0 else {}
    label = ctx.words("write.pump_of", solution=id)
    return Amount(f"{system.id}/pumps/{id}", label, ctx.words.unit(unit), note, False, told)


def _water_change(ctx: PageContext, system: System, unit: str) -> Amount:
    changes, per = ctx.view.log_of(system.id).water_changes, Quantity(1.0, unit, "volume").canonical()
    told: dict[str, Any] = {"unit": unit, "step": 1, "digits": 0, "most": system.water.volume.canonical() / per}
    again, note = _given(ctx, "write.last", [(each.at, each.volume) for each in changes], unit, per)
    label = ctx.words("write.water_change")
    return Amount(f"{system.id}/water_change/volume", label, ctx.words.unit(unit), note, False, told | again)


def _given(
    ctx: PageContext, key: str, before: Sequence[tuple[datetime, Quantity]], unit: str, per: float
) -> tuple[dict[str, Any], str]:
    """What was given before, in a unit of `per` litres (or litres a day), for the script, and a note of the last.

    The script is told the usual amount, not counting those of nothing, the last one, and its decimals: as it was
    written, or two digits that count. `key` leads to the words of the note.
    """
    if not before:
        return {}, ""
    at, last = before[-1]
    value, ran = last.canonical() / per, [each.canonical() / per for _, each in before[-_BACK:] if each.value > 0.0]
    fine = max(0, 1 - math.floor(math.log10(value))) if value > 0.0 else 0
    told = {"last": value, "digits": last.digits if last.unit == unit else fine}
    told |= {"usual": median(ran)} if ran else {}
    return told, ctx.words(key, value=ctx.say.written(last), day=ctx.say.date(at))


def _limits(
    ctx: PageContext, system: System, solution: Solution, most: dict[str, float], litres: float
) -> dict[str, Any]:
    """What one of its unit, so many litres, adds to the water, and how many of it are too much."""
    volume = system.water.volume.canonical()
    adds = {kind: litres * per_litre(solution, kind) / volume for kind in most} if volume > 0.0 else {}
    adds = {kind: each for kind, each in adds.items() if each > 0.0}
    if not adds:
        return {}
    first = min(adds, key=lambda kind: most[kind] / adds[kind])
    return {
        "most": _rounded(most[first] / adds[first]),
        "adds": _rounded(ctx.display.change(first, adds[first])),
        "of": ctx.words(f"quantities.{first}"),
        "in": ctx.say.unit(first),
    }


def _kit_step(system: System, kind: str, unit: str) -> float:
    """The precision that a kit of the system states, in a unit; 0 if none does so in that unit."""
    stated = next((each for kit in system.kits.values() if (each := kit.precision.of(kind))), None)
    if stated is None or not stated.has_factor:
        return 0.0
    usual = sum(KINDS[kind].plausible or (0.0, 0.0)) / 2.0
    return abs(in_unit(kind, usual + canonical_precision(stated), unit) - in_unit(kind, usual, unit))


def _step(digit: float, precision: float) -> float:
    """The largest of 1, 2, 5, 10 … that is no more than a kit can tell apart, and at least the last digit written."""
    if precision <= digit:
        return _rounded(digit)
    power = 10.0 ** math.floor(math.log10(precision))
    return _rounded(max(digit, max(each * power for each in (1, 2, 5) if each * power <= precision * 1.0001)))


def _digits(kind: str, unit: str) -> int:
    """Decimals of a quantity that was never read: those of the example of its kind, as far as the unit is the same."""
    number, _, of = KINDS[kind].example.partition(" ")
    return len(number.partition(".")[2]) if of == unit else 4 if unit.startswith("sg") else 2


def _rounded(value: float) -> float:
    return float(f"{value:.6g}")


class SystemToWrite(Struct, frozen=True):
    """A system's part of the form: its numbers by the part of an entry, and the names that can be chosen."""

    id: str
    name: str
    amounts: dict[str, tuple[Amount, ...]]
    kits: tuple[str, ...]
    mixes: tuple[str, ...]


class WritingForm(Struct, frozen=True):
    """All of the form: systems, and what can be chosen for a coral (by group, each an id and its name)."""

    systems: tuple[SystemToWrite, ...]
    corals: dict[str, tuple[tuple[str, str], ...]]
    places: dict[str, tuple[tuple[str, str], ...]]
    partners: tuple[tuple[str, str], ...]
    deeds: tuple[tuple[str, str], ...]
    health: tuple[tuple[str, str], ...]
    ends: tuple[tuple[str, str], ...]
    forms: tuple[tuple[str, str], ...]
    ways: tuple[tuple[str, str], ...]
    length: str
    mass: str
    told: dict[str, Any]


def writing_page(ctx: PageContext) -> Page:
    """Numbers with their last values and bands, doses, a coral's events and a remark; and how to write them by hand."""
    words = ctx.words
    return page(
        ctx,
        "write",
        "write",
        Paragraph(words("write.no_script"), "lead scriptless"),
        Drawn("writing", _form(ctx), look="writing"),
        Paragraph(ctx.link(links.PHOTO_SIZE, words("photo_size.link")), "onward"),
        section(words("write.by_hand"), *_by_hand(ctx), id="by-hand"),
        lead=words("write.lead"),
        script="scripts/write.js",
    )


def write_link(ctx: PageContext, at: str) -> Link | None:
    """The way to the page to write on, `in-` a system or `of-` a coral; the keeper's own site alone has it."""
    return ctx.link(f"{links.WRITE}#{at}", ctx.words("write.link")) if ctx.view.writes else None


def _form(ctx: PageContext) -> WritingForm:
    words = ctx.words
    systems = tuple(_system(ctx, system) for id, system in ctx.view.systems.items() if id in ctx.findings)
    names = {system.id: system.name for system in ctx.view.systems.values()}
    here = {id: ctx.corals_of(id) for id in names}
    length, mass = (ctx.display.units.get(kind, usual) for kind, usual in (("length", "cm"), ("mass", "g")))
    return WritingForm(
        systems,
        {names[id]: tuple((coral.id, coral.name) for coral in corals) for id, corals in here.items() if corals},
        {
            names[id]: ((id, names[id]), *((f"{id} {place}", place) for place in system.places))
            for id, system in ctx.view.systems.items()
        },
        tuple(sorted(ctx.view.partner_names.items(), key=lambda each: each[1])),
        tuple((id, words(f"write.deeds.{id}")) for id in DEEDS),
        tuple((id, words(f"health.{id}")) for id in get_args(Health.__annotations__["what"])),
        tuple((id, words(f"ends.{id}")) for id in _ENDS),
        tuple((id, words(f"forms.{id}")) for id in get_args(Form)),
        tuple((id, words(f"arrivals.{id}")) for id in get_args(Arrival.__annotations__["how"])),
        length,
        mass,
        {
            "zone": str(ctx.display.zone),
            "decimal": words("numbers.decimal"),
            "built": int(ctx.as_of.timestamp()),
            "amounts": {
                each.id: {"label": each.label, **each.told} for of in systems for each in chain(*of.amounts.values())
            },
            "months": {of.id: sorted(_months(ctx, of.id)) for of in systems},
            "corals": {coral.id: _coral(ctx, coral, id, length) for id, corals in here.items() for coral in corals},
            "taken": sorted(ctx.view.corals),
            "length": length,
            "mass": mass,
            "editor": _editor(ctx),
            # The script fills their blanks.
            "words": {name: words.unfilled(f"write.told.{name}") for name in words.entries["write"]["told"]},
        },
    )


def _system(ctx: PageContext, system: System) -> SystemToWrite:
    asked = amounts(ctx, system, ctx.findings[system.id])
    return SystemToWrite(system.id, system.name, asked, tuple(system.kits), tuple(system.mixes))


def _months(ctx: PageContext, system: str) -> set[str]:
    """The months of a system that have a file."""
    facts = chain(*ctx.view.log_of(system).lists.values())
    return {fact.source.file.rpartition("/")[2].partition(".")[0] for fact in facts}


def _coral(ctx: PageContext, coral: Coral, system: str, length: str) -> dict[str, Any]:
    """What the script knows of a coral: where it is, which lists its file has, and its last size."""
    told: dict[str, Any] = {
        "name": coral.name,
        "system": system,
        "has": [deed for deed in DEEDS if getattr(coral, deed, None)],
        "file": coral.source.file,
    }
    if coral.sizes:
        last = max(coral.sizes, key=lambda size: size.at)
        sides = {side: size for side in ("length", "width", "height") if (size := getattr(last, side))}
        told["at"] = last.at.isoformat()
        told["size"] = {side: float(f"{size.to(length):.6g}") for side, size in sides.items()}
        told["last"] = ctx.words(
            "write.last", value=" × ".join(map(ctx.say.written, sides.values())), day=ctx.say.on(last.at)
        )
    if coral.weighings:
        told["step"] = str(max(coral.weighings, key=lambda each: each.at).resolution)
    return told


def _editor(ctx: PageContext) -> dict[str, str] | None:
    """Where a file of the journal is opened in the forge's editor, and where a new one is begun."""
    repository = ctx.view.settings.repository
    if repository is None:
        return None
    folder = f"{repository.folder}/" if repository.folder else ""
    below = f"{repository.branch}/{folder}"
    way = f"{repository.address}/{repository.way}/{below}"
    return {"edit": way, "new": f"{repository.address}/{repository.way.replace('edit', 'new')}/{below}"}


def _by_hand(ctx: PageContext) -> Iterator[Paragraph | Drawn]:
    """The format of a log and its file, with the last numbers of the first system as the example."""
    words, today = ctx.words, ctx.today.isoformat()
    for id, found in [(id, ctx.findings[id]) for id in ctx.view.systems if id in ctx.findings][:1]:
        readings = ", ".join(f"{kind}: {each.reading.value}" for kind, each in list(found.latest.items())[:2])
        lines = [f"- at: {today} 20:15", f"  readings: {{{readings}}}"] if readings else [f"- at: {today} 20:15"]
        solution = next(iter(ctx.view.systems[id].solutions), "")
        lines += [f"  doses: {{{solution}: 40 mL}}"] if solution else []
        lines.append(f"  note: {words('write.example')}")
        yield Paragraph(joined(words("write.hand.log"), code(f"logs/{id}/{today[:7]}.yaml"), words("write.hand.entry")))
        yield Drawn("lines", "\n".join(lines))
        yield Paragraph(joined(words("write.hand.coral"), code("corals/")))
        yield Drawn("lines", f"sizes:\n  - {{at: {today}, length: 12.5 cm, width: 11 cm, height: 7 cm}}")
        yield Paragraph(words("write.hand.command"))
        first = next((f"{kind} {each.reading.value}, " for kind, each in found.latest.items()), "")
        yield Drawn("lines", f'corallite note {id} "{first}note: {words("write.example")}"')
