"""The demo journal's plan: three reef systems and a quarantine tank in the invented town of Quilverry.

``python -m tests.simulator.demo`` writes content/logs and demo_truth.yaml anew, byte for byte what is
in the tree. The words a keeper adds (notes, events, comments) are in demo_notes.yaml and are woven in.
All other files of content/ began as ``--all OUT`` of the same plan and are edited by hand.
"""

import argparse
from datetime import date, datetime, time
from pathlib import Path

import numpy as np
import yaml

from tests.simulator.files import journal_files
from tests.simulator.journal import Simulated, write
from tests.simulator.plan import CoralPlan, Faults, JournalPlan, Reactor, SystemPlan, Wear, WrongMix, of_compound
from tests.simulator.run import Run, run
from tests.simulator.weave import weave

HERE = Path(__file__).parent
SEED = 20261122
FIRST = date(2025, 5, 20)
LAST = date(2026, 11, 22)
# Two large colonies of unlike forms that came within three days. The boulder lays down far more than its form and size
# promise, the thicket about as much.
NEWCOMERS = {"ballast-1": date(2026, 10, 2), "drowned-orchard-1": date(2026, 10, 4)}


def _reactor(millilitres_a_minute: float) -> Reactor:
    return Reactor(flow=millilitres_a_minute * 1.44, alkalinity=8.0, calcium=520.0, magnesium=1330.0)


LAGOON = SystemPlan(
    id="lagoon",
    name="The Lagoon",
    litres=480.0,
    uncertainty=20.0,
    true_litres=463.0,
    target={"alkalinity": 2.89, "calcium": 425.0, "magnesium": 1320.0},
    solutions=(
        of_compound("soda", "Na2CO3", 60.0, 5.0),
        of_compound("chloride", "CaCl2.2H2O", 80.0, 5.0),
        of_compound("magnesium", "MgCl2.6H2O", 200.0, 2.0),
    ),
    alkalinity_by="soda",
    calcium_by="chloride",
    poured="soda",
    by_hand=((date(2025, 7, 14), "magnesium", 0.12), (date(2026, 4, 18), "magnesium", 0.1)),
    change_every=15.0,
    change_litres=45.0,
    tests_every=(2.0, 5.5),
    temperature=25.4,
    sources={"nitrate": 0.45, "phosphate": 0.006},
    sinks={"nitrate": 0.05, "phosphate": 0.07},
)
FORE_REEF = SystemPlan(
    id="fore-reef",
    name="The Fore-reef",
    litres=1150.0,
    uncertainty=42.0,
    true_litres=1118.0,
    target={"alkalinity": 2.82, "calcium": 420.0, "magnesium": 1320.0},
    start={"alkalinity": 2.84, "nitrate": 4.0, "phosphate": 0.04},
    solutions=(of_compound("soda", "Na2CO3", 60.0, 10.0), of_compound("chloride", "CaCl2.2H2O", 80.0, 10.0)),
    alkalinity_by="soda",
    calcium_by="chloride",
    poured="soda",
    reactor=_reactor(9),
    reactor_steps=(
        (datetime(2026, 1, 17, 10, 30), _reactor(14)),
        (datetime(2026, 6, 13, 10, 30), _reactor(18)),
        (datetime(2026, 10, 3, 7, 10), _reactor(50)),
    ),
    change_every=14.0,
    change_litres=110.0,
    tests_every=(1.6, 4.4),
    temperature=25.6,
    sources={"nitrate": 0.22, "phosphate": 0.003},
    sinks={"nitrate": 0.055, "phosphate": 0.075},
    titrator_from=date(2026, 3, 2),
)
RACEWAY = SystemPlan(
    id="raceway",
    name="The Raceway",
    litres=180.0,
    uncertainty=8.0,
    true_litres=185.0,
    target={"alkalinity": 2.85, "calcium": 420.0, "magnesium": 1300.0},
    solutions=(of_compound("limewater", "Ca(OH)2", 1.6), of_compound("bicarb", "NaHCO3", 75.0, 2.0)),
    limewater=("limewater", 0.1),
    poured="bicarb",
    change_every=10.0,
    change_litres=20.0,
    tests_every=(2.5, 6.5),
    temperature=25.0,
    sources={"nitrate": 0.2, "phosphate": 0.003},
    sinks={"nitrate": 0.06, "phosphate": 0.08},
    starts=date(2025, 6, 14),
)
WAITING_ROOM = SystemPlan(
    id="waiting-room",
    name="The Waiting Room",
    litres=90.0,
    uncertainty=3.0,
    true_litres=91.0,
    change_every=6.0,
    change_litres=18.0,
    tests_every=(7.0, 13.0),
    temperature=25.1,
    sources={"nitrate": 0.3, "phosphate": 0.003},
    starts=date(2026, 2, 7),
)

FAULTS = Faults(
    wear=(Wear(system="lagoon", solution="soda", begins=date(2026, 5, 24), renewed=date(2026, 7, 11), left=0.55),),
    mixes=(WrongMix(system="raceway", begins=date(2026, 2, 10), ends=date(2026, 4, 22), salinity=36.9),),
    holidays=(
        (date(2025, 8, 3), date(2025, 8, 14)),
        (date(2025, 12, 23), date(2025, 12, 30)),
        (date(2026, 7, 28), date(2026, 8, 7)),
    ),
    forgotten=0.02,
    mistyped=(("lagoon", "calcium", date(2025, 10, 8)),),
)


def corals() -> tuple[CoralPlan, ...]:
    """All corals of demo_corals.yaml, as plans."""
    found = []
    for line, family in yaml.load((HERE / "demo_corals.yaml").read_text("utf-8"), yaml.CSafeLoader).items():
        shared = {"line": line, "species": family["species"], "form": family["form"]}
        for piece in family["corals"]:
            moves = tuple((day, system) for day, system in piece.pop("moves", ()))
            at = time.fromisoformat(piece.pop("at")) if "at" in piece else None
            name = f"{family['name']} {piece['id'].rpartition('-')[2]}"
            found.append(CoralPlan(name=name, moves=moves, at=at, **shared, **piece))
    return tuple(found)


def plan() -> JournalPlan:
    """The demo as a whole."""
    return JournalPlan(
        first=FIRST,
        days=(LAST - FIRST).days + 1,
        systems=(LAGOON, FORE_REEF, RACEWAY, WAITING_ROOM),
        corals=corals(),
        faults=FAULTS,
        daily_tests={"fore-reef": ((date(2026, 9, 24), date(2026, 10, 2)), (date(2026, 10, 5), date(2026, 11, 1)))},
        watched=tuple(NEWCOMERS),
    )


def truth_text(happened: Run) -> str:
    """demo_truth.yaml: what was really so, for tests that hold the site's numbers against it."""
    systems = {
        id: {
            "litres": round(truth.litres, 1),
            "days": {
                str(one.day): {
                    "grams_of_caco3": round(one.grams, 2),
                    "alkalinity_uptake_dkh": round(one.alkalinity_uptake, 3),
                    "calcium_uptake_mg_per_l": round(one.calcium_uptake, 2),
                    "alkalinity_at_midnight_dkh": round(one.levels["alkalinity"], 2),
                    "calcium_at_midnight_mg_per_l": round(one.levels["calcium"], 1),
                    "salinity_at_midnight_psu": round(one.levels["salinity"], 2),
                }
                for one in truth.days
                if one.day.day in (1, 8, 15, 22) or any(abs((one.day - came).days) <= 14 for came in NEWCOMERS.values())
            },
        }
        for id, truth in happened.truth.systems.items()
    }
    newcomers = {
        id: {
            "system": "fore-reef",
            "at": str(came),
            "grams_of_caco3": {str(day): round(grams, 2) for day, grams in happened.truth.grams[id].items()},
        }
        for id, came in NEWCOMERS.items()
    }
    wear, mix = FAULTS.wear[0], FAULTS.mixes[0]
    wrong = {
        "worn_tube": {
            "system": wear.system,
            "solution": wear.solution,
            "begins": str(wear.begins),
            "renewed": str(wear.renewed),
            "noticed": str(wear.renewed),
            "part_that_arrives_at_the_end": wear.left,
        },
        "salty_mix": {
            "system": mix.system,
            "begins": str(mix.begins),
            "ends": str(mix.ends),
            "salinity_psu": mix.salinity,
            "logged_psu": 35.0,
        },
        "not_in_the_log": [
            {"system": one.system, "at": f"{one.at:%Y-%m-%d %H:%M}", "what": one.what, "amount": one.amount}
            for one in happened.truth.unlogged
        ],
    }
    head = "# Written by `python -m tests.simulator.demo`. The truth behind content/logs; no reckoning may read it.\n"
    told = {"newcomers": newcomers, "wrong": wrong, "systems": systems}
    return head + yaml.safe_dump(told, sort_keys=False, allow_unicode=True)


def main() -> None:
    """Write the logs and the truth anew, or everything there was before the edits."""
    parser = argparse.ArgumentParser(prog="python -m tests.simulator.demo", description=__doc__)
    parser.add_argument("--all", type=Path, metavar="OUT", help="write the whole unedited journal into a folder")
    given = parser.parse_args()
    happened = run(plan(), SEED)
    if given.all:
        write(Simulated(journal_files(plan(), happened, np.random.default_rng(SEED)), happened.truth), given.all)
        return
    write(Simulated(weave(happened.logs, HERE / "demo_notes.yaml"), happened.truth), HERE.parents[1] / "content")
    (HERE / "demo_truth.yaml").write_text(truth_text(happened), encoding="utf-8")


if __name__ == "__main__":
    main()
