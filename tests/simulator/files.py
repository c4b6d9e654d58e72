"""A run as files: journal, systems, logs, corals; and what was measured, with the scale's and the ruler's error."""

from datetime import date

import numpy as np

from generator.units.kinds import MEQ_PER_DKH
from tests.simulator.growth import ARAGONITE_DENSITY, size
from tests.simulator.plan import KIT, CoralPlan, JournalPlan, Solution, SystemPlan
from tests.simulator.run import Run
from tests.simulator.text import block, log_file, modeline, months

SEAWATER = 1.0233  # kg/L at S = 35, 25 °C (TEOS-10)
BANDS = {
    "alkalinity": ("7.6 dKH", "8.8 dKH"),
    "calcium": ("405 mg/L", "450 mg/L"),
    "magnesium": ("1250 mg/L", "1400 mg/L"),
    "nitrate": ("2 mg/L", "12 mg/L"),
    "phosphate": ("0.02 mg/L", "0.12 mg/L"),
    "salinity": ("34.3 psu", "35.7 psu"),
    "temperature": ("24.4 °C", "26.6 °C"),
    "ph": ("7.9 NBS", "8.45 NBS"),
}


def journal_files(plan: JournalPlan, run: Run, rng: np.random.Generator) -> dict[str, str]:
    """All files of systems, logs and corals, and journal.yaml, by path."""
    files = {"journal.yaml": _settings(plan)}
    for system in plan.systems:
        files[f"systems/{system.id}.yaml"] = system_file(system)
        for month, moments in months(run.logs[system.id]).items():
            files[f"logs/{system.id}/{month}.yaml"] = log_file(moments)
    for coral in plan.corals:
        files[f"corals/{coral.id}.yaml"] = coral_file(plan, coral, run, rng)
    return files


def _settings(plan: JournalPlan) -> str:
    units = {"alkalinity": "dKH", "calcium": "mg/L", "magnesium": "mg/L", "salinity": "psu", "temperature": "°C"}
    fields = {"title": "A simulated journal", "keeper": "Nobody", "time_zone": plan.zone, "units": units}
    return modeline("journal", 0) + block(fields)


def system_file(plan: SystemPlan) -> str:
    """systems/<id>.yaml of a plan."""
    fields: dict[str, object] = {
        "name": plan.name,
        "water": {"volume": f"{plan.litres:g} L", "uncertainty": f"{plan.uncertainty:g} L"},
        "low": {kind: low for kind, (low, _) in BANDS.items()},
        "high": {kind: high for kind, (_, high) in BANDS.items()},
        "target": {
            "alkalinity": f"{plan.target['alkalinity'] / MEQ_PER_DKH:.1f} dKH",
            "calcium": f"{plan.target['calcium']:.0f} mg/L",
        },
        "kits": {"bench": {"precision": {kind: f"{error:g} {unit}" for kind, (unit, error, _, _) in KIT.items()}}},
        "solutions": {solution.id: _solution(solution) for solution in plan.solutions},
        "mixes": {"new-water": _mix(plan.mix)},
    }
    return modeline("systems", 1) + block(fields)


def _solution(solution: Solution) -> dict[str, str]:
    found = {}
    if solution.compound:
        found = {"compound": solution.compound, "strength": f"{solution.grams_per_litre:g} g/L"}
    if solution.stock:
        found["stock"] = f"{solution.stock:g} L"
    return found


def _mix(levels: dict[str, float]) -> dict[str, str]:
    found = {kind: f"{level:g} {KIT[kind][0]}" for kind, level in levels.items() if kind != "alkalinity"}
    return {"alkalinity": f"{levels['alkalinity'] / MEQ_PER_DKH:.1f} dKH"} | found


def coral_file(plan: JournalPlan, coral: CoralPlan, run: Run, rng: np.random.Generator) -> str:
    """corals/<id>.yaml of a plan, with what was measured in the run."""
    arrival = {"at": coral.arrives, "how": coral.how, "partner": coral.partner, "trade": coral.trade}
    moves = [(coral.arrives, coral.system), *coral.moves]
    fields: dict[str, object] = {
        "name": coral.name,
        "species": coral.species,
        "line": coral.line,
        "form": coral.form,
        "parent": coral.parent,
        "arrival": {key: value for key, value in arrival.items() if value},
        "placements": [{"since": day, "system": system} for day, system in moves],
        "sizes": [_size(coral, day, mass, rng) for day, mass in run.measured.get(coral.id, ())],
        "weighings": [_weighing(day, mass, rng) for day, mass in run.weighed.get(coral.id, ())],
        "cuttings": _cuttings(plan, coral),
        "end": {"at": coral.leaves, "how": coral.end or "died"} if coral.leaves else None,
    }
    return modeline("corals", 1) + block(fields)


def _size(coral: CoralPlan, day: date, mass: float, rng: np.random.Generator) -> dict[str, str]:
    read = [round(max(0.5, side + rng.normal(0.0, 0.15 + 0.01 * side)) * 2) / 2 for side in size(coral.form, mass)]
    return {"at": str(day)} | {
        name: f"{side:.1f} cm" for name, side in zip(("length", "width", "height"), read, strict=True)
    }


def _weighing(day: date, mass: float, rng: np.random.Generator) -> dict[str, object]:
    """A weighing in water on a 0.1 g scale, with its holder: what it shows is the skeleton less its lift."""
    shown = mass * (1.0 - SEAWATER / ARAGONITE_DENSITY) + 12.4 + rng.normal(0.0, 0.05)
    return {
        "at": day,
        "mass": f"{shown:.1f} g",
        "resolution": "0.1 g",
        "in_water": True,
        "holder": "12.4 g",
        "salinity": "35.0 psu",
        "temperature": "25.2 °C",
    }


def _cuttings(plan: JournalPlan, coral: CoralPlan) -> list[dict[str, object]]:
    days: dict[date, list[str]] = {}
    for piece in plan.corals:
        if piece.parent == coral.id and piece.how == "cutting" and piece.arrives > plan.first:
            days.setdefault(piece.arrives, []).append(piece.id)
    return [{"at": day, "frags": len(ids), "into": ids} for day, ids in sorted(days.items())]
