"""The fullest record of origin that there can be, as the browser prints it for the bag."""

import dataclasses
import re
import shutil
from datetime import date
from pathlib import Path

import pytest
from msgspec.structs import replace
from playwright.sync_api import Browser

from generator.records.coral import Statement
from generator.render.audience import Hand
from tests.browser.visits import opened
from tests.render import sample
from tests.render.pages import drawn

_ASSETS = Path(__file__).parents[2] / "templates" / "assets"
_SHEET = re.compile(rb"/Type\s*/Page(?!s)")
_LONG = "Halloway and Daughters, growers of stony corals, by the old ferry"
_KEY = (("keeper", _LONG), ("date", "2026-02-01"), ("key_type", "ED25519"), ("key", f"SHA256:{'Dq3' * 14}D"))


def _hands(piece: int) -> tuple[Hand, ...]:
    return tuple(
        Hand(f"Lantern of the grey quay {piece}-{hand}", None, _LONG, "trade", date(2026, 2, 1)) for hand in range(14)
    )


def _claim(piece: int) -> Statement:
    facts = (("coral", f"Lantern of the grey quay {piece}"), ("keeper", _LONG), ("region", _LONG), ("permit", _LONG))
    return Statement("papers", (*facts, ("year", "2019"), ("source_code", "F"), ("appendix", "II")))


# The two sizes of office paper. Source: ISO 216; ANSI/ASME Y14.1.
@pytest.mark.parametrize("size", ["A4", "Letter"])
@pytest.mark.parametrize("pieces", [1, 2, 3, 12])
def test_a_record_of_many_pieces_hands_and_claims_prints_on_one_sheet(
    any_fonts: Browser, tmp_path: Path, pieces: int, size: str
) -> None:
    usual = sample.papers()
    (paper,) = usual.trades.values()
    signed = [Statement("signed", (*_KEY[:1], ("date", f"2026-02-{day:02}"), *_KEY[2:])) for day in range(12, 0, -1)]
    proven = (signed[0], *paper.verified.proven, *signed[1:])
    found = replace(paper.verified, proven=proven, claimed=tuple(map(_claim, range(24))))
    full = replace(paper, verified=found, chains=tuple(map(_hands, range(pieces))))
    address = f"origin/trades/{paper.id}.html"
    page_html = drawn(sample.built(sample.seen("own"), dataclasses.replace(usual, trades={paper.id: full})))[address]
    shutil.copytree(_ASSETS, tmp_path / "assets")
    file = tmp_path / address
    file.parent.mkdir(parents=True)
    file.write_text(page_html)
    margin = dict.fromkeys(("top", "right", "bottom", "left"), "12mm")
    assert "12\u00a0Feb 2026: signed by" in page_html, "the latest signature"
    assert "is complete back to" in page_html, "the chain"
    with opened(any_fonts, file.as_uri()) as (page, _):
        assert page.locator(".paper .qr").bounding_box() is not None
        assert len(_SHEET.findall(page.pdf(format=size, margin=margin))) == 1
