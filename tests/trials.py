"""`python -m tests.trials 200`: kill so many real commands, each at a random moment, and say what came of it.

Two journals: into one, commands write; of the other, whose files stay, two days' sites are built in turn.
"""

import os
import random
import signal
import sys
import time
from collections.abc import Iterator
from datetime import date
from pathlib import Path
from tempfile import TemporaryDirectory

from generator.__main__ import main
from generator.read.load import load
from tests.archive import write_archive
from tests.kills import child

SOUND = (Path(__file__).parent / "read" / "sound.txt").read_text(encoding="utf-8")
PHOTO = "photos:\n  - {file: twig.png, alt: A twig with three branches}\n"
SHEET = "Date,KH\n2026-03-05,8.1\n2026-03-06,{}\n"
DAYS = ("2026-03-30", "2026-03-31")


def tree(folder: Path) -> dict[str, bytes]:
    """Every file that is no draft, by its path."""
    found = {path.relative_to(folder).as_posix(): path for path in folder.rglob("*") if path.is_file()}
    return {name: path.read_bytes() for name, path in found.items() if not name.endswith(".new")}


def silently(*words: str | Path) -> None:
    os.dup2(os.open(os.devnull, os.O_WRONLY), 1)
    os.dup2(1, 2)
    main([str(word) for word in words])


def killed(chance: random.Random, usual: dict[str, float], *words: str | Path) -> bool:
    """Begin a command and kill it within about its usual time; whether it was still at work."""
    name = str(words[0])
    pid = child(lambda: silently(*words))
    time.sleep(chance.uniform(0.0, usual.setdefault(name, 1.0)))
    os.kill(pid, signal.SIGKILL)
    at_work = os.WIFSIGNALED(os.waitpid(pid, 0)[1])
    usual[name] *= 1.2 if at_work else 0.8
    return at_work


def writers(turn: int, folder: Path) -> Iterator[tuple[str | Path, ...]]:
    """Commands that write into a journal, others each turn."""
    sheet, into = folder / "sheet.csv", ("--content", folder / "content")
    sheet.write_text(SHEET.format(8 + turn % 10 / 10))
    yield "note", "reef", f"2026-03-{7 + turn % 20:02d} 10:{turn % 60:02d} alk 8.1", *into, "--as-of", DAYS[1]
    yield "gather", sheet, "--system", "reef", *into, "--as-of", DAYS[1]
    yield "tidy", *into
    yield "schemas", *into


def trial(times: int, seed: int = 0) -> str:
    """Kill so many commands at work; hold after each that no line is lost, and no site is missing or a mixture."""
    chance, at_work, turn = random.Random(seed), 0, 0
    with TemporaryDirectory() as place:
        folder = Path(place)
        os.environ["XDG_CACHE_HOME"] = str(folder / "cache")
        content, still, site = folder / "content", folder / "still", folder / "site"
        for each in (content, still):
            write_archive(SOUND.replace(PHOTO, ""), each)
        sites, usual = {}, dict[str, float]()
        for day in DAYS:
            pid = child(lambda day=day: silently("build", "--content", still, "--site", site, "--as-of", day))  # type: ignore[misc]
            os.waitpid(pid, 0)
            sites[day] = tree(site)
        while at_work < times:
            day = DAYS[turn // 5 % 2]
            at_work += killed(chance, usual, "build", "--content", still, "--site", site, "--as-of", day)
            assert tree(site) in sites.values(), "a site that is missing or a mixture"
            turn += 1
            for words in writers(turn, folder):
                before = tree(content)
                at_work += killed(chance, usual, *words)
                after = tree(content)
                for name, text in before.items():
                    lost = {*text.splitlines()} - {*after.get(name, b"").splitlines()}
                    assert not lost, f"{words}: lost {lost} of {name}"
                assert not load(content, date.fromisoformat(DAYS[1])).errors, f"{words}: half a line"
                turn += 1
    return f"{at_work} of {turn} commands killed at work: 0 lines lost, 0 sites mixed, 0 missing"


if __name__ == "__main__":
    print(trial(int(sys.argv[1]) if sys.argv[1:] else 200, int(time.time())))
