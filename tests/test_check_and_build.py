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


# What keepers put into names, regions and descriptions of pictures.
ODD = (
    "a {b} c",
    "@reef",
    "A > B",
    "A ‹ B",
    "5 µ",
    "I ❤️ it",
    "no\u00a0break",
    "zero\u200dwidth",
    "cafe\u0301",
    "= 1",
    "`x`",
)


def png(path: Path, width: int = 40, height: int = 30) -> None:
    from PIL import Image

    path.parent.mkdir(exist_ok=True)
    Image.new("RGB", (width, height), (30, 90, 120)).save(path)


def coral(id: str, name: str = "", more: str = "") -> str:
    return f"""--- corals/{id}.yaml
name: {name or id}
species: Acropora millepora
line: {id}
form: branching
arrival: {{at: 2025-02-01, how: bought}}
placements: [{{since: 2025-02-01, system: reef}}]
{more}"""


@pytest.mark.long
def test_odd_letters_in_names_regions_and_descriptions_are_built(folder: Path) -> None:
    gave = []
    for n, odd in enumerate(ODD):
        png(folder / f"photos/p{n}.png", 20 + n)
        more = f'origin: {{region: "{odd}", permit: "{odd}"}}\nphotos:\n  - {{file: p{n}.png, alt: "{odd}"}}\n'
        write(folder, coral(f"odd-{n}", f'"{odd} {n}"', more + "cuttings: [{at: 2025-03-01, frags: 1}]\n"))
        gave.append(f"  - coral: odd-{n}\n")
    trades = [
        f"--- trades/2025-04-{n + 1:02}-swap.yaml\nat: 2025-04-{n + 1:02}\npartner: marta\ngave:\n{each}"
        for n, each in enumerate(gave)
    ]
    write(folder, "".join(trades))
    for keeper in ("@Ines {2} > ‹ µ ❤️", "Ine\u0301s\u00a0of\u200dit"):
        journal = folder / "journal.yaml"
        journal.write_text(journal.read_text().replace("keeper: Ines\n", f'keeper: "{keeper}"\n'), encoding="utf-8")
        code, said = check(folder)
        assert code == 0, said
        assert "corals/odd-0.yaml:1: warning: no record of origin can hold this" in said
        builds(folder)


def test_a_record_may_have_the_name_of_a_page(folder: Path) -> None:
    names = ("index", "lines", "survival", "trades")
    system = (folder / "systems/reef.yaml").read_text(encoding="utf-8")
    write(folder, "".join(coral(name) for name in names) + f"--- systems/index.yaml\n{system}")
    write(folder, "--- plans/index.yaml\nsince: 2026-03-01\nmoving: [{coral: lines, to: index}]\n")
    code, said = check(folder)
    assert code == 0, said
    builds(folder, "public", "own")


@pytest.mark.long
def test_photos_of_any_name_and_size_are_built(folder: Path) -> None:
    names = ("a b.png", "tank#1.png", "tank%41.png", "Tänk.png", "---.png", "tall.png", "q=a&b.png")
    for n, name in enumerate(names):
        png(folder / "photos" / name, 30 + n)
    png(folder / "photos/tall.png", 500, 20_000)
    photos = "".join(f'  - {{file: "{name}", alt: x}}\n' for name in names)
    write(folder, coral("shown", more=f"photos:\n{photos}"))
    pictures = "\n".join(f"![x](<../photos/{name.replace('%', '%25')}>)" for name in names[:3])
    write(folder, f"--- entries/2026-03-02-p.md\n---\ntitle: P\nat: 2026-03-02\n---\n{pictures}\n")
    code, said = check(folder)
    assert code == 0, said
    builds(folder, "public", "own")


def test_names_over_several_lines_are_one_line(folder: Path) -> None:
    write(folder, coral("two", "|\n  Two\n  lines"))
    journal = folder / "journal.yaml"
    journal.write_text(journal.read_text().replace("title: Two reefs in one room", "title: |\n  Two\n  reefs"))
    assert check(folder)[0] == 0
    builds(folder)


REFUSED = {
    "base_url: http://…": ("journal.yaml", "base_url: http://…\n"),
    "base_url: https://[::1/": ("journal.yaml", 'base_url: "https://[::1/"\n'),
    "base_url: a port": ("journal.yaml", "base_url: https://reef.example:99999/\n"),
    "base_url: %zz": ("journal.yaml", "base_url: https://reef.example/%zz\n"),
    "base_url: up": ("journal.yaml", "base_url: https://reef.example/a/../b/\n"),
    "base_url: http": ("journal.yaml", "base_url: http://example.org/\n"),
}


@pytest.mark.parametrize("name", REFUSED)
def test_an_address_that_is_none_is_refused_by_both(name: str, folder: Path) -> None:
    file, text = REFUSED[name]
    path = folder / file
    path.write_text(path.read_text(encoding="utf-8") + text, encoding="utf-8")
    code, said = check(folder)
    assert (code, f"{file}:8: " in said) == (1, True), said
    built = run("build", "--content", folder, "--as-of", AS_OF, "--site", folder.with_name("site"))
    assert built == (code, said)


@pytest.mark.parametrize("address", ["https://example.org", "https://localhost:8000/a/b/", "https://müller.example/x"])
def test_an_address_is_built(address: str, folder: Path) -> None:
    with (folder / "journal.yaml").open("a", encoding="utf-8") as file:
        file.write(f"base_url: {address}\n")
    assert check(folder)[0] == 0
    builds(folder, "public", "own")


def test_money_of_310_digits_is_no_amount(folder: Path) -> None:
    trade = folder / "trades/2025-02-01-first-swap.yaml"
    trade.write_text(trade.read_text().replace("20 EUR", f"{'9' * 310} EUR"))
    code, said = check(folder)
    assert code == 1
    assert "trades/2025-02-01-first-swap.yaml:5: " in said
