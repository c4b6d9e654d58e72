"""When a record was written and changed, on its page: for whom it is shown, and what is said where git cannot tell."""

from dataclasses import replace
from datetime import UTC, datetime

import pytest

from generator.records.settings import Publish
from generator.records.source import Commit, History, Source
from generator.render.audience import history_for
from generator.render.base import links
from generator.render.base.blocks import Paragraph
from generator.render.base.page import Page
from generator.render.site.site_map import with_history
from tests.render import sample

CORAL = "corals/tide-lantern-1"
EARLY, LATE = (Commit(datetime(2026, month, 1, tzinfo=UTC), by) for month, by in ((2, "Ines"), (3, "Tomas")))
TO_COME = Commit(datetime(2026, 4, 1, tzinfo=UTC), "Ines")
KNOWN = History({f"{CORAL}.yaml": (TO_COME, EARLY), f"{CORAL}.md": (LATE,), "corals/other.yaml": (LATE,)})
DAYS = "By git: written 1 Feb 2026, last changed 1 Mar 2026"


@pytest.fixture(scope="module")
def page() -> Page:
    """A coral's page of the sample journal."""
    address = links.page_of("coral", "tide-lantern-1")
    return next(page for page in sample.built(sample.seen()).pages if page.url == address)


def said(page: Page, known: History, audience: str = "own", asked: str = "git", **publish: bool) -> str:
    """What a coral's page says at its foot; "" for nothing."""
    settings = sample.settings(history=asked, publish=Publish(source=Source("journal.yaml"), **publish))
    view = sample.seen(audience, settings=settings)
    view = replace(view, history=history_for(view, known)) if view.shows_history else view
    added = with_history(sample.context(view), page, f"{CORAL}.yaml").blocks[len(page.blocks) :]
    return "".join(
        line.text.replace("\u00a0", " ") for line in added if isinstance(line, Paragraph) and isinstance(line.text, str)
    )


@pytest.mark.parametrize(
    ("audience", "publish", "line"),
    [
        ("own", {}, f"{DAYS}, by Ines, Tomas."),
        ("public", {}, ""),
        ("public", {"history": True}, f"{DAYS}."),
        ("public", {"history": True, "authors": True}, f"{DAYS}, by Ines, Tomas."),
        ("public", {"authors": True}, ""),
    ],
)
def test_the_keeper_sees_it_and_others_if_the_journal_publishes_it(
    page: Page, audience: str, publish: dict[str, bool], line: str
) -> None:
    assert said(page, KNOWN, audience, **publish) == line


def test_it_is_there_only_if_asked_for(page: Page) -> None:
    assert said(page, KNOWN, asked="none") == ""


@pytest.mark.parametrize(
    ("history", "line"),
    [
        (History(unknown="no-git"), "Git has no dates for this: git is not installed."),
        (History({"corals/other.yaml": (EARLY,)}), "Not committed to git yet."),
        (
            History({f"{CORAL}.yaml": (LATE,)}, cut_off={f"{CORAL}.yaml"}),
            "By git; written earlier than this clone goes back, last changed 1 Mar 2026, by Tomas.",
        ),
        (
            History({f"{CORAL}.yaml": (EARLY,)}, uncommitted={f"{CORAL}.yaml"}),
            "By git: written 1 Feb 2026, by Ines, changed since, not committed yet.",
        ),
        (History({f"{CORAL}.yaml": (TO_COME,)}), ""),
    ],
)
def test_what_git_cannot_tell_is_said(page: Page, history: History, line: str) -> None:
    assert said(page, history) == line
