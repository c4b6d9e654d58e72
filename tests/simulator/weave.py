"""The keeper's own words, woven into simulated logs: notes, events and comments from one YAML file."""

from datetime import datetime
from pathlib import Path

import yaml

from tests.simulator.keeper import Moment
from tests.simulator.text import log_file, months


def weave(logs: dict[str, list[Moment]], notes: Path) -> dict[str, str]:
    """Log files by path, with the lines of `notes` at their moments and its comments below the first line.

    `notes` maps `lines` to log entries by system, and `comments` to text by `system/month`.
    """
    words = yaml.load(notes.read_text(encoding="utf-8"), Loader=yaml.CBaseLoader)
    files = {}
    for system, log in logs.items():
        added = [_moment(dict(line)) for line in words["lines"].get(system, ())]
        for month, moments in months(sorted([*log, *added], key=lambda moment: moment.at)).items():
            head, _, rest = log_file(moments).partition("\n")
            comment = words["comments"].get(f"{system}/{month}", "")
            files[f"logs/{system}/{month}.yaml"] = f"{head}\n{comment}{rest}"
    return files


def _moment(line: dict[str, object]) -> Moment:
    return Moment(datetime.fromisoformat(str(line.pop("at"))), line)
