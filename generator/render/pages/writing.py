"""The pages that write lines for the files on the spot, without network or server: numbers, and sizes from a photo."""

from collections.abc import Iterator
from typing import Any, get_args

from msgspec import Struct

from generator.nature.constants import REFRACTIVE_INDEX_OF_SEAWATER
from generator.records.coral import Arrival, Coral, Form, Health
from generator.records.system import System
from generator.render.base import links
from generator.render.base.blocks import Drawn, Paragraph, section
from generator.render.base.context import PageContext, page
from generator.render.base.links import Link, code, joined
from generator.render.base.page import Page
from generator.render.base.why import to_method
from generator.render.pages.writing_amounts import Amount, amounts, of_all
from generator.units.kinds import KINDS
from generator.units.quantity import Quantity

# What a coral's file can have one more of; a new coral has a file of its own.
DEEDS = ("sizes", "weighings", "placements", "cuttings", "health", "photos", "end", "new")
# How a coral leaves a keeper, as far as the shorthand has a word for it.
_ENDS = ("died", "lost", "given", "sold")


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
            "amounts": {each.id: {"label": each.label, **each.told} for of in systems for each in of_all(of.amounts)},
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
    log = ctx.view.log_of(system)
    kinds = (log.readings, log.doses, log.pumps, log.measured_rates, log.fillings, log.water_changes, log.top_offs)
    facts = (fact for each in (*kinds, log.effluents, log.events, log.dismissals, log.notes) for fact in each)
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


# From the camera to the pane, and from there to the ruler, cm: common practice, no source.
_USUAL_DISTANCES = (20.0, 15.0)


def photo_size_page(ctx: PageContext) -> Page:
    """Two taps on a ruler and an outline give length, width and area, and the line for the coral's file."""
    words = ctx.words
    unit = ctx.display.units.get("length", KINDS["length"].canonical)
    corals = [coral for id in ctx.view.systems for coral in ctx.corals_of(id)]
    told: dict[str, Any] = {
        "n": REFRACTIVE_INDEX_OF_SEAWATER.value,
        "length": unit,
        "unitCm": Quantity(1.0, unit, "length").canonical(),
        # What a telephone in front of a tank is at, unless the keeper says otherwise.
        "usual": [f"{cm / Quantity(1.0, unit, 'length').canonical():.3g}" for cm in _USUAL_DISTANCES],
        "decimal": words("numbers.decimal"),
        "zone": str(ctx.display.zone),
        "corals": [coral.id for coral in corals],
        "words": {name: words.unfilled(f"photo_size.told.{name}") for name in words.entries["photo_size"]["told"]},
    }
    return page(
        ctx,
        "photo_size",
        "corals",
        Paragraph(words("photo_size.no_script"), "lead scriptless"),
        Drawn(
            "photo_size",
            (unit, tuple((coral.id, coral.name) for coral in corals), told, ctx.way(links.WRITE)),
            "writing",
        ),
        Paragraph(joined(f"{words('why.method')}:", to_method(ctx, "photo-size")), "note"),
        lead=words("photo_size.lead"),
        script="scripts/size-formulas.js scripts/photo-size.js",
    )


def photo_size_link(ctx: PageContext, coral: str) -> Link | None:
    """The way to it from a coral's page; the keeper's own site alone has it."""
    return ctx.link(f"{links.PHOTO_SIZE}#of-{coral}", ctx.words("photo_size.link")) if ctx.view.writes else None
