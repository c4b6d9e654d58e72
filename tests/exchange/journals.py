"""Two keepers' journals as real folders, and the handing over between them by the commands a keeper uses."""

from datetime import date
from pathlib import Path

from msgspec import Struct

from generator.__main__ import main
from generator.read.load import load
from generator.records.journal import Journal
from tests.archive import write_archive

NOW = date(2026, 11, 20)

_JOURNAL = """\
--- journal.yaml
title: {keeper}'s reefs
keeper: {keeper}
time_zone: Europe/Lisbon
--- systems/reef.yaml
name: Reef
water: {{volume: 400 L, uncertainty: 10 L}}
low: {{alkalinity: 7.0 dKH}}
high: {{alkalinity: 9.0 dKH}}
--- partners/{partner}.yaml
name: {partner}
shows: [name]
"""

LANTERN = """\
--- corals/tide-lantern.yaml
name: Tide Lantern
species: Acropora millepora
line: tide-lantern
form: branching
arrival: {at: 2020-02-01, how: bought}
origin:
  region: Moluccas
  year: 2018
  source_code: F
  appendix: II
  permit: ID-2018-0042
placements:
  - {since: 2020-02-01, system: reef}
cuttings:
  - {at: 2026-03-15, frags: 40}
photos:
  - {file: lantern.png, alt: A colony with green tips, at: 2024-05-01}
--- photos/lantern.png
a picture
"""


class Keeper(Struct, frozen=True, dict=True):
    """A keeper's folder, and what they do at the command line."""

    name: str
    folder: Path
    outbox: Path

    @classmethod
    def begin(cls, name: str, partner: str, place: Path, more: str = "") -> "Keeper":
        outbox = place / f"{name}-outbox"
        outbox.mkdir()
        folder = place / name
        folder.mkdir()
        write_archive(_JOURNAL.format(keeper=name, partner=partner) + more, folder)
        return cls(name, folder, outbox)

    def write(self, text: str) -> None:
        write_archive(text, self.folder)

    def journal(self) -> Journal:
        """The journal, which must be without a single problem."""
        loaded = load(self.folder, NOW)
        assert not loaded.problems, "\n".join(map(str, loaded.problems))
        assert loaded.journal is not None
        return loaded.journal

    def hand_over(self, name: str, on: date = NOW, *more: str) -> Path:
        """`corallite origin`, which must work."""
        file = self.outbox / f"{len(list(self.outbox.iterdir()))}.json"
        words = ["origin", name, "--content", str(self.folder), "--output", str(file), "--as-of", on.isoformat()]
        assert main([*words, *more]) == 0
        return file

    def take_in(self, file: Path, on: date = NOW, *more: str) -> set[str]:
        """`corallite take-in`, which must work; the ids of the corals that are new."""
        before = set(self.journal().corals)
        words = ["take-in", str(file), "--content", str(self.folder), "--at", on.isoformat(), "--system", "reef"]
        assert main([*words, *more]) == 0
        return set(self.journal().corals) - before

    def tree(self) -> dict[str, bytes]:
        """Every file of the journal and its bytes."""
        return {
            str(path.relative_to(self.folder)): path.read_bytes()
            for path in sorted(self.folder.rglob("*"))
            if path.is_file()
        }


def ines_and_marta(place: Path) -> tuple[Keeper, Keeper]:
    """Ines has a lantern; Marta has nothing yet."""
    return Keeper.begin("ines", "marta", place, LANTERN), Keeper.begin("marta", "ines", place)
