"""Whole journals of any size with known truth: a plan drawn at random, let happen, written down."""

from datetime import date, timedelta
from pathlib import Path

import numpy as np
from msgspec import Struct

from tests.simulator.files import journal_files
from tests.simulator.growth import mass_of
from tests.simulator.plan import CoralPlan, Faults, JournalPlan, Reactor, SystemPlan, Wear, of_compound
from tests.simulator.run import run
from tests.simulator.text import block, modeline
from tests.simulator.truth import Truth

LAST_DAY = date(2026, 11, 22)
SPECIES = (
    ("Acropora tenuis", "corymbose"),
    ("Acropora cytherea", "tabling"),
    ("Stylophora pistillata", "branching"),
    ("Montipora capricornis", "plating"),
    ("Porites cylindrica", "columnar"),
    ("Platygyra daedalea", "massive"),
    ("Pocillopora damicornis", "branching"),
    ("Pavona decussata", "encrusting"),
)


class Simulated(Struct, frozen=True):
    """A journal's files by path, and the truth about it."""

    files: dict[str, str]
    truth: Truth


def simulate(
    seed: int, *, systems: int = 3, days: int = 540, corals: int = 45, entries: int = 25, readings: int | None = None
) -> Simulated:
    """A journal ending on 2026-11-22. `readings` asks for about so many single readings in all."""
    rng = np.random.default_rng(seed)
    plan = random_plan(rng, systems, days, corals, readings)
    happened = run(plan, seed)
    files = journal_files(plan, happened, rng)
    files |= _partner_files(plan) | _entry_files(rng, plan, entries)
    return Simulated(files, happened.truth)


def write(simulated: Simulated, folder: Path) -> None:
    """Put a journal's files into a folder."""
    for path, text in simulated.files.items():
        target = folder / path
        target.parent.mkdir(parents=True, exist_ok=True)
        target.write_text(text, encoding="utf-8")


def random_plan(
    rng: np.random.Generator, systems: int, days: int, corals: int, readings: int | None = None
) -> JournalPlan:
    """Systems of the three ways to dose in turn, corals in lines of about four, one worn pump tube."""
    first = LAST_DAY - timedelta(days=days - 1)
    # A round reads 3.2 quantities on average (see Keeper._panel).
    gap = 3.5 if readings is None else max(1.0, 3.2 * systems * days / readings)
    ids = [f"system-{number + 1}" for number in range(systems)]
    plans = tuple(_system(rng, id, number, corals / systems, gap) for number, id in enumerate(ids))
    holidays = []
    for year in range(first.year, LAST_DAY.year + 1):
        begins = date(year, 7, 1) + timedelta(days=int(rng.integers(0, 40)))
        holidays.append((begins, begins + timedelta(days=int(rng.integers(8, 17)))))
    worn = first + timedelta(days=days // 2)
    wear = (Wear(system=ids[0], solution="soda", begins=worn, renewed=worn + timedelta(days=45), left=0.7),)
    mistyped = ((ids[0], "alkalinity", first + timedelta(days=days // 3)),)
    return JournalPlan(
        first=first,
        days=days,
        systems=plans,
        corals=_corals(rng, ids, first, days, corals),
        faults=Faults(wear=wear, holidays=tuple(holidays), mistyped=mistyped),
    )


def _system(rng: np.random.Generator, id: str, number: int, corals: float, gap: float) -> SystemPlan:
    litres = float(round(rng.uniform(25.0, 45.0) * max(8.0, corals)))
    soda, chloride = of_compound("soda", "Na2CO3", 60.0, 10.0), of_compound("chloride", "CaCl2.2H2O", 80.0, 10.0)
    reactor = (
        Reactor(flow=round(litres * 0.04) * 1.44, alkalinity=8.6, calcium=540.0, magnesium=1330.0)
        if number % 3 == 1
        else None
    )
    lime = ("limewater", round(litres * 0.004, 1)) if number % 3 == 2 else None
    return SystemPlan(
        id=id,
        name=f"System {number + 1}",
        litres=litres,
        uncertainty=round(litres * 0.05),
        solutions=(soda, chloride, *([of_compound("limewater", "Ca(OH)2", 1.6)] if lime else [])),
        alkalinity_by=None if lime else "soda",
        calcium_by=None if lime else "chloride",
        poured="soda",
        limewater=lime,
        reactor=reactor,
        change_litres=float(round(litres * 0.1)),
        tests_every=(gap * 0.55, gap * 1.45),
    )


def _corals(rng: np.random.Generator, systems: list[str], first: date, days: int, corals: int) -> tuple[CoralPlan, ...]:
    """The first of each line on or after the first day, then cuttings of those old enough, some of which end."""
    found: list[CoralPlan] = []
    lines = max(1, corals // 4)
    for number in range(corals):
        line = number % lines
        species, form = SPECIES[line % len(SPECIES)]
        parent = found[number - lines] if number >= lines else None
        earliest = (parent.arrives - first).days + 60 if parent else -200
        day = first + timedelta(days=int(rng.integers(earliest, max(earliest + 1, days - 10))))
        if parent is None and rng.random() < 0.7:
            day = first
        if day > LAST_DAY or (parent is not None and parent.leaves is not None and parent.leaves <= day):
            parent, day = None, first
        leaves = max(day, first) + timedelta(days=int(rng.integers(60, 700))) if rng.random() < 0.15 else None
        found.append(
            CoralPlan(
                id=f"line-{line + 1}-{number // lines + 1}",
                name=f"Line {line + 1} no. {number // lines + 1}",
                species=species,
                line=f"line-{line + 1}",
                form=form,
                system=systems[int(rng.integers(len(systems)))],
                arrives=max(day, first),
                mass=round(mass_of(form, float(rng.uniform(3.0, 6.0) if parent else rng.uniform(6.0, 14.0))), 1),
                parent=parent.id if parent else None,
                how="cutting" if parent else "gift",
                partner=None if parent else "a-friend",
                leaves=leaves if leaves and leaves <= LAST_DAY else None,
                end="died",
                most=mass_of(form, 15.0),
                weighed_every=120 if number % 5 == 0 else 0,
            )
        )
    return tuple(found)


def _partner_files(plan: JournalPlan) -> dict[str, str]:
    return {"partners/a-friend.yaml": modeline("partners", 1) + block({"name": "A friend", "since": plan.first})}


def _entry_files(rng: np.random.Generator, plan: JournalPlan, entries: int) -> dict[str, str]:
    """Posts that mention a system and a coral each, evenly over the days."""
    files = {}
    for number in range(entries):
        day = plan.first + timedelta(days=int((number + 0.5) * plan.days / entries))
        system = plan.systems[int(rng.integers(len(plan.systems)))]
        coral = plan.corals[int(rng.integers(len(plan.corals)))] if plan.corals else None
        head = {"title": f"Note {number + 1}", "at": day, "systems": [system.id]}
        about = f" Looked at [{coral.name}](coral:{coral.id}) for a while." if coral else ""
        body = f"A day at [{system.name}](system:{system.id}).{about}\n\n" + "The water was clear and still. " * 20
        files[f"entries/{day}-note-{number + 1}.md"] = f"---\n{modeline('entries', 1)}{block(head)}---\n\n{body}\n"
    return files
