"""Whatever `check` passes, `build` builds for every audience. Whatever build refuses, check names with its line."""

import io
from contextlib import redirect_stderr, redirect_stdout
from pathlib import Path

import pytest

from generator.__main__ import main
from tests.archive import write_archive

SOUND = (Path(__file__).parent / "read/sound.txt").read_text(encoding="utf-8")
PHOTO = "photos:\n  - {file: twig.png, alt: A twig with three branches}\n"
AUDIENCES = ("public", "partners", "own", "partner:marta")
AS_OF = "2026-03-31"


def run(*words: str | Path) -> tuple[int, str]:
    said = io.StringIO()
    with redirect_stdout(said), redirect_stderr(said):
        try:
            code = main([str(word) for word in words])
        except SystemExit as end:
            code = int(end.code or 0)
    return code, said.getvalue()


def check(folder: Path) -> tuple[int, str]:
    return run("check", "--content", folder, "--as-of", AS_OF)


def builds(folder: Path, *audiences: str) -> None:
    for audience in audiences or AUDIENCES:
        site = folder.with_name(f"site-{audience.replace(':', '-')}")
        code, said = run("build", "--content", folder, "--as-of", AS_OF, "--audience", audience, "--site", site)
        assert code == 0, f"{audience}: {said}"


@pytest.fixture
def folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path / "cache"))
    (tmp_path / "journal").mkdir()
    write_archive(SOUND.replace(PHOTO, ""), tmp_path / "journal")
    return tmp_path / "journal"


def write(folder: Path, files: str) -> Path:
    write_archive(files, folder)
    return folder


UNITS = {  # what has no factor to the canonical unit, as both ends of a band
    "salinity": {
        "sg 25/25": (1.025, 1.0275),
        "sg 20/20": (1.025, 1.0275),
        "sg 60F/60F": (1.025, 1.0275),
        "sg 20/4": (1.024, 1.0265),
        "mS/cm": (50, 54),
        "g/kg": (34, 36),
    },
    "ph": {"total": (7.8, 8.4)},
    "temperature": {"°F": (75, 80)},
    "calcium": {"mg/kg": (390, 440), "mmol/kg": (9.8, 11)},
}


def test_every_unit_can_be_the_end_of_a_band_a_mix_and_a_kits_precision(folder: Path) -> None:
    for kind, units in UNITS.items():
        for n, (unit, (low, high)) in enumerate(units.items()):
            id = f"{kind}-{n}"
            write(
                folder,
                f"""--- systems/{id}.yaml
name: {id}
water: {{volume: 400 L, uncertainty: 10 L}}
low: {{{kind}: "{low} {unit}"}}
high: {{{kind}: "{high} {unit}"}}
target: {{{kind}: "{(low + high) / 2} {unit}"}}
mixes:
  new: {{{kind}: "{low} {unit}"}}
kits:
  probe:
    precision: {{{kind}: "{(high - low) / 50:.6f} {unit}"}}
--- logs/{id}/2026-03.yaml
- at: 2026-03-02 08:10
  readings: {{{kind}: "{low} {unit}"}}
- at: 2026-03-08 08:10
  readings: {{{kind}: "{high} {unit}"}}
  water_change: {{volume: 40 L, mix: new}}
- at: 2026-03-15 08:10
  readings: {{{kind}: "{low} {unit}"}}
""",
            )
    code, said = check(folder)
    assert code == 0, said
    builds(folder, "own")
