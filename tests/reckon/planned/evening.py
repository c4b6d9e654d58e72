"""The demo on an evening with plans ahead, and one plan more than it has: found once for all who ask of it."""

from dataclasses import replace
from datetime import date, datetime
from pathlib import Path
from tempfile import TemporaryDirectory

from generator.read.load import load
from generator.records.journal import Journal, as_it_stood
from generator.records.source import Source
from generator.records.trade import Mover, Planned
from tests.conftest import lately


def evening() -> tuple[Journal, datetime]:
    """The journal of the evening, in which a coral is to move within the house; and its moment."""
    with TemporaryDirectory() as folder:
        loaded = load(lately(Path(folder, "content"), "2026-0[1-4]"), date(2026, 11, 24)).journal
    assert loaded is not None
    at = datetime(2026, 11, 24, 20, 0, tzinfo=loaded.settings.time_zone)
    source = Source("plans/moving-house.yaml")
    moving = (Mover(source=source, coral="night-trawler-1", to="lagoon"),)
    house = Planned(source=source, id="moving-house", since=date(2026, 11, 20), moving=moving)
    return as_it_stood(replace(loaded, plans={**loaded.plans, house.id: house}), at), at
