"""Questions about a colony: `predict` its uptake; `what-if` it is cut, taken out or moved; find it a `place`."""

import argparse
import re
from dataclasses import replace
from datetime import UTC, date, datetime, timedelta
from functools import partial
from typing import TYPE_CHECKING

from generator.commands.asking import Asked, answered, asked, english, keepers_context, say_of
from generator.commands.options import (
    FORMS,
    add_as_of,
    add_content,
    day_or_moment,
    known_genus,
    measures,
    named,
    quantity_in,
    say_length,
    sides_as_written,
)
from generator.commands.terminal import NOTHING, Stop, doing, print_done, print_lines, stopping

if TYPE_CHECKING:
    from collections.abc import Mapping

    from generator.reckon.arrivals.analysis import Foresight
    from generator.reckon.arrivals.colony import Colony, Mass
    from generator.reckon.growth.places import Suggestion
    from generator.reckon.growth.spots import Wish
    from generator.reckon.water.findings import ReadingPlan
    from generator.records.coral import Coral
    from generator.records.journal import Journal
    from generator.render.base.numbers import Say, Shown


EXAMPLES = """\
  corallite predict --system lagoon --genus Montipora --form plating --size '20 x 18 x 9 cm'"""


def arguments(parser: argparse.ArgumentParser) -> None:
    """Declare the command's options."""
    parser.add_argument("--system", required=True, metavar="SYSTEM", help="the system it will go into")
    parser.add_argument("--genus", "--species", required=True, metavar="NAME", help="its genus, such as Acropora")
    parser.add_argument("--form", required=True, choices=FORMS, help="its growth form")
    parser.add_argument("--size", metavar="LxWxH", help="length, width and height: '48 x 40 x 18 cm'")
    parser.add_argument("--mass", metavar="MASS", help="its mass, drained, in air: '2.6 kg'")
    parser.add_argument("--holder", metavar="MASS", help="what of that mass is its holder, weighed the same way")
    parser.add_argument("--in-water", action="store_true", help="it was weighed hanging in water")
    parser.add_argument("--plan", metavar="NAME", help="write it down as a plan, by the name that the colony will have")
    parser.add_argument("--date", type=day_or_moment, metavar="WHEN", help="when it comes, if that is agreed")
    add_content(parser)
    add_as_of(parser)


def run(args: argparse.Namespace) -> int:
    """Print the prediction. Raises `Stop` if there is none, or an argument is wrong."""
    from generator.reckon.arrivals.analysis import foresee
    from generator.reckon.arrivals.known import waters_of
    from generator.reckon.dosing.stocks import of_phases
    from generator.records.journal import moment

    known = asked(args)
    journal, say = known.journal, say_of(known.journal)
    system = named("system", args.system, journal.systems)
    colony = _colony(args, journal.settings.units)
    if args.plan:
        _write_plan(args, known)
    comes = max(moment(args.date or known.as_of, journal.settings.time_zone), known.as_of)
    with doing(args, "calculating"):
        found = answered(foresee(waters_of(journal), system, colony, comes))
    print(f"{colony.genus} ({say.words(f'forms.{colony.form}')}) in {system.name}")
    told = [
        *_uptake(found, say),
        *_ahead(found, say, by_the_hour=isinstance(args.date or args.as_of or known.as_of, datetime)),
    ]
    if found.added.doses:
        told += ["", say.words("dosing.cautions")]
        told += [f"  {say.words(f'dose_cautions.{caution}')}" for caution in of_phases((found.added,), system)]
    print_lines(told)
    return 0


def _plan(args: argparse.Namespace, known: "Asked") -> tuple[str, str]:
    """The id of a plan for the colony, and the text of its file. Raises `Stop`."""
    from generator.shorthand.finish import id_of
    from generator.shorthand.yaml_text import SCHEMA, written

    id = id_of(args.plan)
    if not id or not args.size:
        raise Stop("a plan needs a name with letters and a size (add --size '20 x 18 x 9 cm')")
    genus = known_genus(args.genus)
    units = known.journal.settings.units
    measures(args.size, units)
    sides = zip(("length", "width", "height"), sides_as_written(args.size, units) or (), strict=False)
    colony = [f"coral: {id}", f"name: {written(args.plan)}", f"species: {genus if ' ' in genus else f'{genus} sp.'}"]
    colony += [f"form: {args.form}", *(f"{side}: {number} {unit}" for side, (number, unit) in sides)]
    if args.mass and not (args.in_water or args.holder):
        colony.append(f"mass: {quantity_in(args.mass, 'mass', units)}")
    colony += [f"system: {named('system', args.system, known.journal.systems).id}"]
    lines = [SCHEMA.replace("corals", "plans"), f"since: {known.as_of.date()}"]
    lines += [f"date: {str(args.date)[:16]}"] if args.date else []
    lines += ["coming:", f"  - {colony[0]}", *(f"    {line}" for line in colony[1:])]
    return id, "\n".join([*lines, ""])


def _write_plan(args: argparse.Namespace, known: "Asked") -> None:
    """Write the plan, and say what comes next. Raises `Stop`."""
    from generator.commands.writing import locked, write_new
    from generator.read.load import load

    id, text = _plan(args, known)
    name = f"plans/{id}.yaml"
    with stopping(wrote=NOTHING), locked(args.content):
        errors = load(args.content, known.as_of, {name: text}).errors
        if wrong := [problem for problem in errors if problem.source.file == name]:
            raise Stop(*wrong, NOTHING)
        write_new(args.content, {name: text.encode("utf-8")})
    print_done(args, f"wrote {name}; next: corallite sheet {id}, and when it is here: corallite arrive {id}\n")


def _colony(args: argparse.Namespace, units: "Mapping[str, str]") -> "Colony":
    from generator.reckon.arrivals.colony import Colony
    from generator.reckon.growth.measurements import Body

    body = None
    if args.size:
        length, width, *height = measures(args.size, units)
        body = Body(length, width, height[0] if height else None)
    return Colony(genus=known_genus(args.genus.lower()), form=args.form, body=body, mass=_mass(args, units))


def _mass(args: argparse.Namespace, units: "Mapping[str, str]") -> "Mass | None":
    """The mass as weighed. One unit of its last digit counts as the scale's resolution."""
    from generator.reckon.arrivals.colony import Mass
    from generator.units.quantity import convert

    if not args.mass:
        return None
    weighed = quantity_in(args.mass, "mass", units)
    return Mass(
        grams=weighed.canonical(),
        resolution=convert(10.0**-weighed.digits, "mass", weighed.unit, "g"),
        in_water=args.in_water,
        holder=quantity_in(args.holder, "mass", units).canonical() if args.holder else 0.0,
    )


def _said(label: str, shown: "Shown") -> str:
    return f"  {label:<44} {shown.value}, {shown.interval}"


def _uptake(found: "Foresight", say: "Say") -> list[str]:
    """Each method's uptake, all methods combined, and what that means in this water."""
    from generator.reckon.finding import CannotTell

    words, uptake = say.words, found.uptake
    lines = ["", words("changes.ways_title")]
    for way in uptake.published.ways:
        basis, study = words(f"changes.basis.{way.basis}"), words(f"changes.study.{way.study}")
        lines.append(_said(words("changes.way", basis=basis, study=study), say.amount(way.grams_per_day)))
    lines.append(_said(words("changes.row.published"), say.amount(uptake.published.combined.estimate("g/day"))))
    factor = say.estimate(uptake.factor.ratio.estimate("").scaled(100.0, "%"))
    known = words(f"changes.factor.{uptake.factor.known}", **factor.blanks())
    lines += ["", words("changes.predicted_now"), f"  {known}"]
    lines.append(_said(words("changes.grams"), say.amount(uptake.grams_per_day.estimate)))
    for kind, answer in (("alkalinity", uptake.alkalinity), ("calcium", uptake.calcium)):
        lines.append(_said(words(f"quantities.{kind}"), say.per_day(kind, answer.estimate)))
    if isinstance(uptake.share, CannotTell):
        return [*lines, f"  {words('changes.share')}: {words(f'cannot.{uptake.share.why}')}"]
    share = say.estimate(uptake.share.estimate.scaled(100.0, "%"))
    return [*lines, _said(words("changes.share"), share)]


def _ahead(found: "Foresight", say: "Say", by_the_hour: bool) -> list[str]:
    """The doses that hold the level, when it leaves its band without them, and when to test.

    `by_the_hour`: the colony goes in now; otherwise at some time that day.
    """
    from generator.reckon.finding import CannotTell
    from generator.render.base.numbers import forecast_words

    words = say.words
    lines = ["", words("changes.doses")]
    for dose in found.added.doses:
        if dose.rate.estimate.value > 0.0:
            lines.append(_said(dose.supply, say.estimate(dose.rate.estimate.scaled(1000.0, "mL"), say.a_day("mL"))))
    if len(lines) == 2:
        lines.append(f"  {words('cannot.nothing-to-dose')} {words('remedies.write-a-solution')}")
    if not isinstance(found.unchanged, CannotTell):
        outlook = ", ".join(filter(None, forecast_words(say, found.unchanged)))
        lines += ["", f"{words('changes.if_unchanged')}: {words('quantities_within.alkalinity')} {outlook}."]
    return [*lines, "", words("changes.readings"), *_readings(found.plan, say, by_the_hour)]


def _readings(plan: "ReadingPlan | None", say: "Say", by_the_hour: bool) -> list[str]:
    from generator.render.base.numbers import hundredths
    from generator.units.quantity import Estimate

    words = say.words
    if plan is None:
        return [f"  {words('cannot.uptake-not-known')} {words('remedies.read-alkalinity')}"]
    if not plan.readings:
        size = say.per_day("alkalinity", Estimate.exact(plan.size, "meq/L/day"))
        return [f"  {words('changes.plan.none', size=size.value)}"]
    lines = []
    for reading in plan.readings:
        day = say.moment(reading.at).text if by_the_hour else say.date(reading.at)
        odds = words("changes.plan.odds", n=hundredths(reading.odds))
        lines.append(f"  {day}: {words(f'changes.plan.why.{reading.why}')}, {odds}")
    return lines


_PART = re.compile(r"\s*(\d+(?:\.\d+)?)\s*(?:%|/\s*(\d+))\s*")

WHAT_IF_EXAMPLES = """\
  corallite what-if tide-lantern-1 --cut 1/3"""


def what_if_arguments(parser: argparse.ArgumentParser) -> None:
    """Declare the command's options."""
    parser.add_argument("coral", metavar="CORAL", help="the name of a coral, of its file, or of a planned one")
    parser.add_argument("--cut", default="1/3", metavar="PART", help="how much to cut off: '1/3' (default) or '40 %%'")
    add_content(parser)
    add_as_of(parser)


def what_if_run(args: argparse.Namespace) -> int:
    """Print uptake now and after each change. Raises `Stop` if there is no answer, or an argument is wrong."""
    from generator.nature.genera import cautions
    from generator.reckon.arrivals.analysis import analyse_what_if
    from generator.render.base.numbers import what_if_words
    from generator.render.base.words import ended

    known, coral = _coral(args.coral, asked(args))
    journal, words = known.journal, english()
    with doing(args, "calculating"):
        found = answered(analyse_what_if(journal, coral, _part(args.cut), known.as_of))
    names = {id: system.name for id, system in journal.systems.items()}
    print(f"{ended(coral.name)} {words('shares.what_if_lead')}")
    told = (f"  {line}" for line in what_if_words(say_of(journal), found, names))
    mind = (f"  {words(f'cautions.{caution}')}" for caution in cautions(coral.species))
    print_lines([*told, f"{words('cutting.cautions')}:", *mind])
    return 0


def _coral(text: str, known: Asked) -> "tuple[Asked, Coral]":
    """A coral and the journal; of one that is only planned, as if its plan were carried out now."""
    from generator.records.carried_out import Affected, told_with
    from generator.records.trade import Appointed

    journal, at = known.journal, known.as_of
    coming = {new.coral: (new, plan) for plan in journal.plans.values() for new in plan.coming}
    found = named("coral", text, {**{id: new for id, (new, _) in coming.items()}, **journal.corals})
    if (coral := journal.corals.get(getattr(found, "id", ""))) is not None:
        return known, coral
    new, plan = coming[getattr(found, "coral", "")]
    if new.system is None:
        raise Stop(
            f"{new.coral} is only planned, and for no system yet (write 'system:' in plans/{plan.id}.yaml, "
            f"or run: corallite sheet {plan.id})"
        )
    print(f"As if plans/{plan.id}.yaml were carried out now.")
    when = Appointed(at.date(), at.astimezone(UTC))
    told = told_with(Affected(journal.corals, journal.trades, journal.logs), plan, when)
    journal = replace(journal, corals=told.corals, trades=told.trades, logs=told.logs)
    return Asked(journal, at + timedelta(minutes=1)), told.corals[new.coral]


def _part(text: str) -> float:
    """A share of a coral: more than none of it, less than all of it."""
    match = _PART.fullmatch(text)
    whole = float(match[2] or 100.0) if match else 0.0
    part = float(match[1]) / whole if match and whole > 0.0 else 0.0
    if not 0.0 < part < 1.0:
        raise Stop(f"'{text}' is not a part of a coral (write for example '1/3' or '40 %')")
    return part


# Sunlight at noon on a reef flat is near 2000 PAR, with the waves' lenses for moments more; common practice, no source.
_BRIGHTEST = 3000.0
_LIGHT = re.compile(r"\s*(\d+(?:\.\d+)?)(?:\s*(?:-|–|to)\s*(\d+(?:\.\d+)?))?\s*(PAR|µmol/m²/s|µmol/m2/s)?\s*")

PLACE_EXAMPLES = """\
  corallite place --size '20 x 18 x 9 cm' --light '250-350 PAR' --flow strong"""


def place_arguments(parser: argparse.ArgumentParser) -> None:
    """Declare the command's options."""
    parser.add_argument("--size", required=True, metavar="LxWxH", help="length, width and height: '48 x 40 x 18 cm'")
    parser.add_argument("--light", metavar="PAR", help="the light it wants: '250-350 PAR' (default: any)")
    parser.add_argument("--flow", choices=("weak", "moderate", "strong"), help="the flow it wants (default: any)")
    parser.add_argument("--species", "--genus", default="", metavar="NAME", help="its species, which sets its safe gap")
    parser.add_argument("--form", choices=FORMS, help="its growth form, which sets the room to grow (default: fastest)")
    parser.add_argument("--system", metavar="SYSTEM", help="search only this system (default: all)")
    parser.add_argument("--most", type=int, default=5, metavar="N", help="list at most N places (default: 5)")
    add_content(parser)
    add_as_of(parser)


def place_run(args: argparse.Namespace) -> int:
    """Print the places, best first. Raises `Stop` if there is none, or an argument is wrong."""
    from generator.reckon.analysis.journal import Findings
    from generator.reckon.growth.spots import ROOM_FOR
    from generator.render.base.page import said
    from generator.render.pages.sheet_colony import no_place_words, place_row

    known = asked(args)
    journal, wish = known.journal, _wish(args, known.journal)
    only = named("system", args.system, journal.systems).id if args.system else None
    with doing(args, "calculating"):
        found = _found(journal, wish, only, known.as_of.date())
    ctx = keepers_context(known, Findings(known.as_of))
    if not found:
        raise Stop(no_place_words(ctx, only))
    for number, (where, fits, moves) in enumerate((place_row(ctx, each) for each in found[: args.most]), start=1):
        said_moves = f"   {ctx.words('places.moves')}: {said(moves)}."
        print_lines((f"{number}. {said(where)}: {said(fits)}.", said_moves))
    length = partial(say_length, journal.settings.units)
    room = f"room for what it grows in {ROOM_FOR.days} days, {length(wish.grown - wish.radius, digits=1)} on every side"
    print(f"Calculated with a gap of {length(wish.safe)} to its neighbours, and {room}.")
    return 0


def _wish(args: argparse.Namespace, journal: "Journal") -> "Wish":
    from generator.reckon.growth.places import wish_for
    from generator.reckon.growth.spots import Wish

    sides = measures(args.size, journal.settings.units)
    light = _LIGHT.fullmatch(args.light) if args.light else None
    if args.light and light is None:
        raise Stop(f"'{args.light}' is not a light level (write for example '250-350 PAR')")
    ends = sorted(float(end) for end in light.groups()[:2] if end) if light else []
    if ends and ends[-1] > _BRIGHTEST:
        raise Stop(f"no reef has more light than {_BRIGHTEST:.0f} PAR (write for example '250-350 PAR')")
    height = sides[2] if len(sides) > 2 else None
    low, high = (ends[0], ends[-1]) if ends else (None, None)
    wish = Wish(max(sides[:2]), min(sides[:2]), height, low, high, args.flow)
    return wish_for(known_genus(args.species), args.form, wish, journal.settings.safe_distances)


def _found(journal: "Journal", wish: "Wish", only: str | None, today: date) -> "tuple[Suggestion, ...]":
    from generator.reckon.growth.analysis import analyse_growth
    from generator.reckon.growth.places import where_could_it_go
    from generator.reckon.growth.room import stand

    growths = {coral.id: analyse_growth(coral, journal.logs, today) for coral in journal.corals.values()}
    standing = {id: stand(system, journal.corals.values(), growths, today)[0] for id, system in journal.systems.items()}
    return where_could_it_go(wish, journal.systems.values(), standing, journal.settings.safe_distances, today, only)
