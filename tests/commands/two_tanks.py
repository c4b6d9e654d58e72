"""A small journal of two reefs with a few corals each, on disk, and plans for what comes, goes and moves."""

from datetime import UTC, datetime, timedelta
from pathlib import Path

START = datetime(2026, 10, 1, 8, tzinfo=UTC)
# The hour at which the plans are carried out; the last readings are from the morning before.
AT = datetime(2026, 10, 30, 14, 0, tzinfo=UTC)

JOURNAL = """\
title: Two tanks
keeper: Ondine Farrow
time_zone: UTC
language: en
units: {alkalinity: dKH, calcium: mg/L, length: cm, mass: g, volume: L, rate: mL/day}
containers:
  vat: {length: 50 cm, width: 40 cm, height: 35 cm, volume: 60 L, mass: 3 kg}
"""
SYSTEM = """\
name: %(name)s
water: {volume: %(litres)d L, uncertainty: 1 L}
parts:
  - {name: display, volume: %(litres)d L, length: 120 cm, width: 60 cm, height: 55 cm}
started: 2025-01-01
low: {alkalinity: 7.4 dKH, calcium: 400 mg/L}
high: {alkalinity: 8.8 dKH, calcium: 460 mg/L}
target: {alkalinity: 8.2 dKH, calcium: 430 mg/L}
kits:
  drops:
    precision: {alkalinity: 0.1 dKH, calcium: 8 mg/L}
solutions:
  soda: {compound: Na2CO3, strength: 60 g/L, stock: 5 L}
  chloride: {compound: CaCl2.2H2O, strength: 85 g/L, stock: 5 L}
photoperiod: 10 h
places:
  ledge:
    {part: display, x: 10 cm, y: 5 cm, width: 90 cm, depth: 50 cm, height: 20 cm, light: 200 PAR, flow: strong}
"""
SYSTEMS = {"bay": ("The Bay", 420, 1.1), "pond": ("The Pond", 240, 0.7)}
CORALS = {
    "stag-1": ("Acropora muricata", "branching", (24, 20, 15), "bay", (20, 25)),
    "boulder-1": ("Porites lutea", "massive", (14, 13, 8), "bay", (70, 25)),
    "dish-1": ("Turbinaria reniformis", "plating", (20, 17, 6), "pond", (25, 25)),
    "knob-1": ("Pocillopora damicornis", "branching", (11, 10, 8), "pond", (70, 25)),
}
COMING = """\
since: 2026-10-20
date: 2026-10-30 14:00
partner: lowell
coming:
  - coral: newcomer-1
    name: Newcomer
    species: Pocillopora grandis
    form: branching
    length: 20 cm
    width: 18 cm
    height: 12 cm
    system: bay
    place: ledge
    x: 45 cm
    y: 25 cm
travel: {container: vat, water: 40 L, duration: 2 h}
"""
GOING = """\
since: 2026-10-20
date: 2026-10-30 14:00
partner: lowell
going:
  - {coral: stag-1, whole: true}
"""
MOVING = """\
since: 2026-10-20
date: 2026-10-30 14:00
moving:
  - {coral: stag-1, to: pond, place: ledge, x: 45 cm, y: 25 cm}
"""
TANK = """\
since: 2026-10-20
date: 2026-10-30 14:00
moving:
  - {all_of: bay, to: pond}
"""
PLANS = {"newcomer": COMING, "stag-goes": GOING, "stag-moves": MOVING, "all-move": TANK}


def coral(species: str, form: str, size: tuple[int, int, int], system: str, at: tuple[int, int]) -> str:
    """The file of a coral that has been in one place since it came."""
    length, width, height = size
    return (
        f"name: {species.split()[1].title()}\nspecies: {species}\nline: {species.split()[1]}\nform: {form}\n"
        "arrival: {at: 2025-02-01, how: unknown}\n"
        f"placements:\n  - {{since: 2025-02-01, system: {system}, place: ledge, x: {at[0]} cm, y: {at[1]} cm}}\n"
        f"sizes:\n  - {{at: 2026-09-15, length: {length} cm, width: {width} cm, height: {height} cm}}\n"
    )


def _log(litres: int, uptake: float) -> str:
    """Readings that stay as they are, as the pump gives what is taken up (a litre of 60 g/L soda: 3173 dKH)."""
    soda = uptake * litres / 3173.0 * 1000.0
    lines = [
        f"- at: {START:%Y-%m-%d %H:%M}\n  pumps: {{soda: {soda:.1f} mL/day, chloride: {soda * 0.98:.1f} mL/day}}\n"
    ]
    for n in range(0, 29, 2):
        at = START + timedelta(days=n, minutes=5)
        lines.append(f"- at: {at:%Y-%m-%d %H:%M}\n  readings: {{alkalinity: 8.2 dKH, calcium: 430 mg/L}}\n")
    return "".join(lines)


def write(folder: Path, *plans: str, arrived: bool = False, at: datetime = AT) -> Path:
    """Write the journal with these plans, carried out at a moment if they have `arrived`."""
    files = {"journal.yaml": JOURNAL, "partners/lowell.yaml": "name: Lowell\n"}
    for id, (name, litres, uptake) in SYSTEMS.items():
        files[f"systems/{id}.yaml"] = SYSTEM % {"name": name, "litres": litres}
        files[f"logs/{id}/2026-10.yaml"] = _log(litres, uptake)
    files |= {f"corals/{id}.yaml": coral(*told) for id, told in CORALS.items()}
    done = f"arrived: {at:%Y-%m-%d %H:%M}\n" if arrived else ""
    files |= {f"plans/{plan}.yaml": PLANS[plan] + done for plan in plans}
    for name, text in files.items():
        path = folder / name
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_text(text, encoding="utf-8")
    return folder
