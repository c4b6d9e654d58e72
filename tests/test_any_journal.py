"""Journals nobody thought of: whatever `check` passes of them, all six builds make a site of.

`EXAMPLES=500 pytest -n0 tests/test_any_journal.py` tries more of them; the days and the seed are fixed.
"""

import json
import math
import os
from datetime import date
from pathlib import Path
from tempfile import TemporaryDirectory

import pytest
from hypothesis import HealthCheck, Phase, given, settings
from hypothesis import strategies as st

from generator.units.kinds import KINDS, Unit
from generator.units.quantity import BY_UNIT, STANDARD_DENSITY
from tests.archive import write_archive
from tests.test_check_and_build import check, png, run

EXAMPLES = int(os.environ.get("EXAMPLES", "5"))
BUILDS = (("public",), ("partners",), ("own",), ("partner:marta",), ("partner:wren",), ("own", "--as-of", "2025-06-30"))
ODD = "ab Z9.,;:!?'\"#%&@{}<>[]|`*_=+-~^$\\/()‹›µ❤\ufe0f\u00a0\u200d\u0301\u202e珊éßπД\t"
texts = st.text(ODD, min_size=1, max_size=25).filter(lambda text: text.strip() != "")
ids = st.sampled_from(["index", "lines", "survival", "a", "tide-lantern-3", "trades", "0", "origin"])
files = st.sampled_from(["a b.png", "tank#1.png", "tank%41.png", "Ä.PNG", "x.webp", "q?.png", "-.png", "a+b=c.png"])
came = st.dates(min_value=date(2025, 1, 1), max_value=date(2025, 2, 28))
days = st.dates(min_value=date(2025, 3, 1), max_value=date(2026, 3, 31))
moneys = st.from_regex(r"\A[0-9]{1,12}(\.[0-9]{1,2})? (EUR|USD)\Z")


def between(unit: Unit, kind: str, low: float, high: float) -> st.SearchStrategy[str]:
    """Values in a unit, between two parts of what its kind can be."""
    if unit.form:
        first, last = BY_UNIT[unit.symbol]
    else:
        scale = unit.factor * (STANDARD_DENSITY if unit.per_kg else 1.0)
        first, last = ((end - unit.offset) / scale for end in KINDS[kind].plausible or (1.0, 40.0))
    width = last - first
    digits = max(2, 3 - math.floor(math.log10(width)))
    values = st.floats(first + low * width, first + high * width)
    return values.map(lambda value: f"{value:.{digits}f} {unit.symbol}")


def quantity(kind: str, low: float = 0.02, high: float = 0.98) -> st.SearchStrategy[str]:
    return st.sampled_from(KINDS[kind].units).flatmap(lambda unit: between(unit, kind, low, high))


def levels(low: float, high: float) -> st.SearchStrategy[dict[str, str]]:
    kinds = ("alkalinity", "calcium", "nitrate", "salinity", "temperature", "ph")
    return st.fixed_dictionaries({}, optional={kind: quantity(kind, low, high) for kind in kinds})


photos = st.lists(st.fixed_dictionaries({"file": files, "alt": texts}), max_size=2)
corals = st.fixed_dictionaries(
    {
        "name": texts,
        "species": st.sampled_from(["Acropora millepora", "Zoanthus sp.", "Galaxea fascicularis"]),
        "line": ids,
        "form": st.sampled_from(["branching", "massive", "encrusting"]),
        "cuttings": st.builds(lambda n: [{"at": "2025-03-01", "frags": str(n)}], st.integers(1, 4)),
        "arrival": st.builds(lambda day: {"at": str(day), "how": "bought"}, came),
    },
    optional={
        "to_offer": st.just("true"),
        "stings": quantity("length"),
        "origin": st.fixed_dictionaries({}, optional={"region": texts, "permit": texts}),
        "photos": photos,
        "audience": st.sampled_from(["public", "partners", "own"]),
        "private": texts,
        "placements": st.builds(lambda day: [{"since": str(day), "system": "index", "x": "5 cm"}], days),
        "sizes": st.builds(lambda day, side: [{"at": str(day), "length": side}], days, quantity("length")),
    },
)
readings = st.lists(st.tuples(days, levels(0.02, 0.98).filter(bool)), max_size=6, unique_by=lambda each: each[0])
journals = st.fixed_dictionaries(
    {
        "title": texts,
        "keeper": texts,
        "corals": st.dictionaries(ids, corals, min_size=1, max_size=3),
        "low": levels(0.1, 0.3),
        "high": levels(0.6, 0.9),
        "kit": st.sampled_from([{}, {"alkalinity": "0.2 dKH"}, {"salinity": "0.0005 sg 20/4", "ph": "0.1 total"}]),
        "readings": readings,
        "post": texts,
        "story": texts,
        "worth": moneys,
        "trade": days,
        "language": st.sampled_from(["en", "de"]),
        "name": texts,
        "units": st.sampled_from([{}, {"alkalinity": "dKH"}, {"salinity": "sg 20/4"}, {"length": "in", "mass": "oz"}]),
    }
)


def yaml(value: object) -> str:
    return json.dumps(value, ensure_ascii=False)


def write(journal: dict[str, object], folder: Path) -> None:
    """A journal's values as files; JSON is YAML as far as these go."""
    given = dict(journal)
    made: dict[str, dict[str, object]] = given["corals"]  # type: ignore[assignment]
    day = given["trade"]
    written = {
        "journal.yaml": {
            "title": given["title"],
            "keeper": given["keeper"],
            "time_zone": "Europe/Lisbon",
            "language": given["language"],
            "units": given["units"],
        },
        "systems/index.yaml": {
            "name": given["name"],
            "water": {"volume": "300 L", "uncertainty": "9 L"},
            "low": given["low"],
            "high": given["high"],
            "kits": {"k": {"precision": given["kit"]}},
        },
        "partners/marta.yaml": {"name": given["keeper"], "shows": ["name"]},
        "partners/wren.yaml": {"name": "Wren", "public_name": given["name"]},
        f"trades/{day}-swap.yaml": {
            "at": str(day),
            "partner": "marta",
            "gave": [{"coral": id, "frags": "1"} for id in made],
            "was_paid": given["worth"],
        },
        **{f"corals/{id}.yaml": coral for id, coral in made.items()},
    }
    for id, coral in made.items():
        for photo in coral.get("photos", ()):  # type: ignore[attr-defined]
            png(folder / "photos" / photo["file"].replace("webp", "png"))
            (folder / "photos" / photo["file"].replace("webp", "png")).rename(folder / "photos" / photo["file"])
        (folder / "corals").mkdir(exist_ok=True)
        (folder / f"corals/{id}.md").write_text(f"{given['story']}\n", encoding="utf-8")
    months: dict[str, list[object]] = {}
    for on, read in given["readings"]:  # type: ignore[attr-defined]
        months.setdefault(f"{on:%Y-%m}", []).append({"at": f"{on} 08:10", "readings": read})
    written |= {f"logs/index/{month}.yaml": entries for month, entries in months.items()}  # type: ignore[dict-item]
    write_archive("".join(f"--- {file}\n{yaml(value)}\n" for file, value in written.items()), folder)
    post = f"---\ntitle: {yaml(given['title'])}\nat: 2026-03-01\n---\n{given['post']}\n"
    write_archive(f"--- entries/2026-03-01-p.md\n{post}", folder)


@pytest.mark.long
@given(journal=journals)
@settings(
    max_examples=EXAMPLES,
    derandomize=True,
    database=None,
    phases=(Phase.explicit, Phase.generate),
    suppress_health_check=list(HealthCheck),
)
def test_whatever_check_passes_is_built(journal: dict[str, object]) -> None:
    with TemporaryDirectory() as place:
        folder = Path(place) / "journal"
        folder.mkdir()
        write(journal, folder)
        code, said = check(folder)
        assert "Traceback" not in said
        for n, (audience, *more) in enumerate(BUILDS):
            words = ("--content", folder, "--audience", audience, "--site", Path(place) / str(n))
            built, answer = run("build", *words, *(more or ("--as-of", "2026-03-31")))
            assert "Traceback" not in answer
            if code == 0:
                assert built == 0, f"check said nothing of this: {answer}"
