"""`corallite journey`: can this colony travel in this container, for this long?"""

import argparse
import re
import sys
from datetime import UTC, datetime
from typing import TYPE_CHECKING

from generator.commands.asking import in_the_future_from
from generator.commands.options import FORMS, add_as_of, add_content, print_problems

if TYPE_CHECKING:
    from generator.reckon.trade.fit import Sides
    from generator.reckon.trade.journey import Journey, Plan
    from generator.records.coral import Form
    from generator.records.journal import Journal
    from generator.records.settings import Container
    from generator.units.quantity import Estimate

_MEASURES = re.compile(r"(\d+(?:\.\d+)?)\s*[x×]\s*(\d+(?:\.\d+)?)\s*[x×]\s*(\d+(?:\.\d+)?)\s*(cm|mm|m|in)?")
# Limits of the arguments. Water: where the solubility of oxygen is known (Garcia & Gordon 1992), °C. Air: any
# climate, °C. Padding, cm.
_WATER, _AIR, _PADDING = (0.0, 40.0), (-40.0, 60.0), (0.0, 50.0)
_SMALL = 10.0  # litres or kilograms; smaller values get one decimal
_CAUTIONS = {
    "lifting": "Water is heavy. Carry the container empty where you can, and lift it with two people.",
    "cites": "Stony corals are CITES-listed. You may need permits to sell them or cross a border. Local law decides.",
    "no-release": "Never release animals or tank water. It does harm and is often against the law.",
}
_LIFTS = {
    "one-person": "One person can lift it.",
    "two-people": "Lift it with two people.",
    "not-filled": "Do not lift it full. Carry it empty, and fill and drain it in place.",
}


def arguments(parser: argparse.ArgumentParser) -> None:
    """Declare the command's options."""
    parser.add_argument("--colony", required=True, metavar="CORAL|LxWxH", help="a coral's id, or its size: 31x27x24 cm")
    parser.add_argument(
        "--container", required=True, metavar="NAME|LxWxH", help="a container of journal.yaml, or its inner size"
    )
    parser.add_argument("--duration", required=True, metavar="TIME", help="time on the road: '40 min' or '9 h'")
    parser.add_argument(
        "--water", default="25 °C", metavar="TEMP", help="water temperature at the start (default: 25 °C)"
    )
    parser.add_argument("--air", default="20 °C", metavar="TEMP", help="air temperature on the way (default: 20 °C)")
    parser.add_argument("--padding", default="2.5 cm", metavar="LENGTH", help="padding on every side (default: 2.5 cm)")
    parser.add_argument("--form", choices=FORMS, default="branching", help="growth form, if you give a size")
    add_content(parser)
    add_as_of(parser)


def run(args: argparse.Namespace) -> int:
    """Print how the journey would go. Return 1 if the colony does not fit, or an argument is wrong."""
    from generator.read.load import load
    from generator.reckon.trade.journey import judge
    from generator.units.quantity import NotAQuantity

    # With sizes for both the coral and the container, no journal is needed.
    named = [text for text in (args.colony, args.container) if not _MEASURES.fullmatch(text.strip())]
    journal = None
    if named or (args.content / "journal.yaml").is_file():
        loaded = load(args.content, in_the_future_from(args.as_of, datetime.now(UTC)))
        journal = loaded.journal
        if journal is None and named:
            print(f"not a size such as 31x27x24 cm, so the journal must name it: {', '.join(named)}", file=sys.stderr)
            print_problems(loaded.errors)
            return 1
    try:
        plan = _plan(args, journal)
    except (NotAQuantity, LookupError) as error:
        print(error.args[0], file=sys.stderr)
        return 1
    judged = judge(plan, journal.trades.values() if journal else ())
    _print(judged)
    return 0 if judged.fit.fits else 1


def _plan(args: argparse.Namespace, journal: "Journal | None") -> "Plan":
    from generator.reckon.trade.journey import Plan, surface_factor_of
    from generator.units.quantity import parse_quantity

    colony, mass, genus, form = _colony(args, journal)
    written = journal.settings.containers.get(args.container) if journal else None
    container = _container(args.container, written)
    hours = parse_quantity(args.duration, "duration").canonical()
    if hours <= 0:
        raise LookupError(f"'{args.duration}' is not a time on the road (write for example 40 min)")
    return Plan(
        colony=colony,
        surface_factor=surface_factor_of(genus, form),
        mass=mass,
        container=container,
        hours=hours,
        start=_between(args.water, "temperature", *_WATER),
        air=(_between(args.air, "temperature", *_AIR), 2.0),
        padding=_between(args.padding, "length", *_PADDING),
        container_id=args.container if written else None,
        container_mass=written.mass.canonical() / 1e3 if written and written.mass else None,
    )


def _colony(args: argparse.Namespace, journal: "Journal | None") -> "tuple[Sides, Estimate, str, Form]":
    """Its sides (cm), its mass (kg), its genus ("" if only a size was given) and its form."""
    from generator.reckon.growth.footprint import Body, expected_mass
    from generator.reckon.trade.journey import genus_of, sides_of_coral

    sides = _measures(args.colony)
    if sides is not None:
        measured = Body(sides.length, sides.width, sides.height)
        return sides, expected_mass(measured, "", args.form).estimate.scaled(1e-3, "kg"), "", args.form
    coral = journal.corals.get(args.colony) if journal else None
    if coral is None:
        raise LookupError(f"there is no coral '{args.colony}' (give its id, or a size such as 31x27x24 cm)")
    found = sides_of_coral(coral)
    if found is None:
        raise LookupError(f"'{coral.id}' has no measured size (give one such as 31x27x24 cm)")
    return *found, genus_of(coral), coral.form


def _container(name: str, written: "Container | None") -> "Sides":
    """The inside of a container (cm), from its size or as `written` in journal.yaml."""
    from generator.reckon.trade.journey import sides_of_container

    sides = _measures(name)
    if sides is not None:
        return sides
    if written is None:
        raise LookupError(f"there is no container '{name}' (list it in journal.yaml, or give its inner size)")
    return sides_of_container(written)


def _between(text: str, kind: str, least: float, most: float) -> float:
    """A quantity in its canonical unit, within limits. Raises `LookupError` with a message for the keeper."""
    from generator.units.kinds import KINDS
    from generator.units.quantity import parse_quantity

    value = parse_quantity(text, kind).canonical()
    if not least <= value <= most:
        raise LookupError(f"'{text}' is out of range (write {least:g} to {most:g} {KINDS[kind].canonical})")
    return value


def _measures(text: str) -> "Sides | None":
    """Three measures written as 31x27x24 cm; None for anything else. `LookupError` for a side of nothing."""
    from generator.reckon.trade.fit import Sides
    from generator.units.quantity import convert

    found = _MEASURES.fullmatch(text.strip())
    if found is None:
        return None
    unit = found[4] or "cm"
    if not all(float(found[n]) for n in (1, 2, 3)):
        raise LookupError(f"'{text}' has a side of 0 (write length, width and height, such as 31x27x24 cm)")
    return Sides(*(convert(float(found[n]), "length", unit, "cm") for n in (1, 2, 3)))


def _print(judged: "Journey") -> None:
    pose, fitted = judged.fit.pose, judged.fit
    how = "flat" if pose.tilt == 0 else f"tilted {pose.tilt:.0f}°"
    turned = f", turned {pose.turn:.0f}°" if pose.turn else ""
    if fitted.fits:
        corners = "" if fitted.clearance_of_box >= 0 else ", but not at the corners of its box: check them"
        print(f"It fits {how}{turned}, with {fitted.clearance:.1f} cm to spare beyond the padding{corners}.")
    else:
        print(f"It does not fit: at best, {how}{turned}, it is {-fitted.clearance:.1f} cm too large.")
    cover = "" if judged.covered else " (the container is full before the coral is covered)"
    print(f"Water to cover it: {_said(judged.water)}{cover}")
    lift = judged.lift
    print(f"To lift: {_said(lift.mass)}; guideline for one person: {lift.limit:.0f} kg. {_LIFTS[lift.judgement]}")
    learned = (
        "learned from logged trips"
        if judged.time_constant.inputs
        else "from its size: no logged trip of this container has water and air temperatures"
    )
    print(f"Water on arrival: {_said(judged.arrival.estimate)} ({learned})")
    print(f"Oxygen lasts: {_said(judged.oxygen.estimate)}")
    print("Risks: " + ", ".join(f"{risk.id} {risk.level}" for risk in judged.risks))
    print("Pack: " + ", ".join(item.id.replace("-", " ") for item in judged.packing))
    for caution in judged.cautions:
        print(_CAUTIONS[caution])


def _said(found: "Estimate") -> str:
    digits = 1 if found.value < _SMALL or found.unit in ("°C", "h") else 0
    return f"{found.value:.{digits}f} {found.unit} ({found.low:.{digits}f} to {found.high:.{digits}f})"
