"""Pages of trades, travel, offers and papers, by what they say."""

import csv
import dataclasses
import io
import re

import pytest
from msgspec.structs import replace

from generator.records.settings import Offers, Publish
from generator.records.source import Source
from generator.render.audience import view
from generator.render.tables import contents
from tests.render import sample
from tests.render.pages import drawn, texts

SITE = sample.built(sample.seen("own"))
HTML = drawn(SITE)


def said(url: str, html: dict[str, str] = HTML) -> str:
    return re.sub(r"\s+", " ", " ".join(text for _, text in texts(html[url])).replace("\u00a0", " "))


def rows(address: str, site=SITE) -> list[dict[str, str]]:
    return list(csv.DictReader(io.StringIO(site.files[address].decode())))


def test_an_account_tells_pieces_worth_and_what_is_overdue():
    page = said("trades/index.html")
    assert "pieces: 4 given, 1 received" in page
    # Given 71234.50 for three pieces, paid as much: worth counts a line's pieces together.
    assert "They owe us 142469.00 EUR" in page
    assert "2 items have no agreed value." in page
    assert "we owe: CANARY-owed due 1 Mar 2026 : overdue by 9 days" in page


def test_a_partners_own_folder_says_what_the_partner_gave_and_is_owed():
    theirs = view(sample.journal(), "partners", "canary-person")
    html = drawn(sample.built(theirs))
    page = said("trades/index.html", html)
    assert "Your trade with Wren Halloway" in page
    assert "You owe 142469.00 EUR" in page
    assert "you are owed: CANARY-owed" in page
    assert "they owe" not in page
    front = said("index.html", html)
    assert "Between Wren Halloway and you" in front
    assert "You owe 142469.00 EUR" in front


def test_only_the_keeper_sees_accounts():
    for audience in ("public", "partners"):
        html = drawn(sample.built(sample.seen(audience)))
        assert "Accounts" not in said("trades/index.html", html)


def test_a_trade_tells_its_journey_and_which_looks_were_not_written():
    page = said("trades/2026-02-01-swap.html")
    assert "0 min 25.2 °C 12 °C 50 min 24.1 °C 12 °C" in page
    assert "The water arrived 1.1 °C colder." in page
    assert "on arrival all of it not recorded" in page
    assert "14 days all of it not recorded" in page
    assert "60 days all of it" not in page, "that day is not yet past"
    assert re.search(r"Time constant of canary-crate with 9.0 L of water [\d.]+ h likely", page)


def test_trades_stand_over_one_time_with_what_is_owed_for_those_who_may_know_it():
    own, public = (drawn(sample.built(sample.seen(audience)))["trades/index.html"] for audience in ("own", "public"))
    for html in (own, public):
        assert 'class="timeline"' in html
        assert "▲ Given · ▼ Received" in html
    assert "they owe" in own.split("</figure>")[0]
    assert "they owe" not in public


def test_travel_sets_what_went_well_beside_what_went_badly():
    page = said("travel/index.html")
    assert "Went well: 1. Went badly: 0. Not recorded: 0." in page
    assert "Time on the way 0.8 h (one trip) not recorded" in page
    assert "learned from one logged trip section" in page


def test_every_rule_of_an_offer_shows_its_threshold_where_it_stands_and_what_was_found():
    written = Offers(source=Source("journal.yaml", 40), length=sample.of(9, "cm", "length", 0))
    here = sample.coral(to_offer=True, cuttings=(), health=())
    sister = sample.coral("sister", to_offer=True)
    given = {"settings": sample.settings(offers=written), "corals": {c.id: c for c in (here, sister)}, "trades": {}}
    page = said("offers.html", drawn(sample.built(sample.seen("own", entries={}, **given))))
    assert "Length It is at least 9 cm long. length journal.yaml:40" in page
    assert "Quarantine It is out of quarantine. out_of_quarantine default" in page
    assert "Here for It has been here for at least 30 days. here_for default" in page
    # A mark for each rule, and below it what holds a coral.
    assert "Tide Lantern 1 on offer passes passes passes passes 12.5 cm passes passes does not pass" in page
    assert "Safe line would be at risk corals/sister.yaml:1 does not pass" in page


def test_offers_are_public_only_if_the_keeper_says_so():
    open_ = sample.settings(publish=Publish(source=Source("journal.yaml"), offers=True))
    assert "offers.html" not in drawn(sample.built(sample.seen("public")))
    html = drawn(sample.built(sample.seen("public", settings=open_)))
    assert "Not yet" not in said("offers.html", html)
    assert "offers.html" in drawn(sample.built(sample.seen("partners")))


def test_a_paper_says_what_is_proven_and_what_is_only_claimed_and_where_to_verify():
    page = said("origin/tide-lantern-1.html")
    proven, claimed = page.index("Proven"), page.index("Only claimed")
    assert proven < page.index("is complete back to") < claimed < page.index("says of Tide Lantern 1")
    assert " ".join(["abababab"] * 8) in page
    assert f"--digest {'ab' * 32}" in page
    assert 'class="qr"' in HTML["origin/tide-lantern-1.html"]


def test_equal_pieces_of_a_trade_are_told_once_on_its_paper():
    usual = sample.papers()
    (paper,) = usual.trades.values()
    found = replace(paper.verified, proven=paper.verified.proven * 4, claimed=paper.verified.claimed[:1] * 4)
    four = replace(paper, verified=found, chains=paper.chains * 4)
    html = drawn(sample.built(sample.seen("own"), dataclasses.replace(usual, trades={paper.id: four})))
    page = said(f"origin/trades/{paper.id}.html", html)
    assert page.count("Whose hands Tide Lantern 1 went through") == 1
    assert "went through 4 frags" in page
    assert page.count("(×4)") == 2, "what is proven and what is claimed, each once"


def test_a_paper_names_nobody_in_public_who_did_not_agree_and_keeps_permits_back():
    html = drawn(sample.built(sample.seen("public")))
    page = said("origin/tide-lantern-1.html", html)
    assert "a keeper not named here" in page
    assert "a coral not shown here" in page
    assert "in 2019" in page
    assert "permit" not in page.replace("may need permits", "")
    assert "origin/back-coral.html" not in html


def test_the_files_of_trades_and_travel_have_the_columns_that_are_explained():
    assert {contents.trades, contents.travel} <= set(contents.TABLES)
    trades = rows("data/trades.csv")
    assert [row["what"] for row in trades] == ["gave", "gave", "received", "paid", "owed"]
    assert trades[0]["worth"] == "71234.50"
    assert trades[-1]["due"] == "2026-03-01"
    (trip,) = rows("data/travel.csv")
    assert (trip["hours"], trip["water_litres"], trip["condition_1"], trip["went"]) == ("0.833333", "9", "good", "well")
    for table, found in ((contents.trades, trades), (contents.travel, [trip])):
        assert list(found[0]) == [column.name for column in table.columns]


def test_a_trip_after_which_nobody_looked_tells_neither_of_slime_nor_of_breakage():
    trades = {id: replace(trade, checks=()) for id, trade in sample.journal().trades.items()}
    (trip,) = rows("data/travel.csv", sample.built(sample.seen("own", trades=trades)))
    assert (trip["slime"], trip["broken_off"], trip["went"]) == ("", "", "not-recorded")


@pytest.mark.parametrize("audience", ["public", "partners"])
def test_the_files_of_others_hold_neither_money_nor_promises_nor_distance(audience: str):
    site = sample.built(sample.seen(audience))
    assert {row["what"] for row in rows("data/trades.csv", site)} == {"gave", "received"}
    assert all(row["worth"] == "" and row["partner"] == "" for row in rows("data/trades.csv", site))
    assert all(row["kilometres"] == "" and row["container"] == "" for row in rows("data/travel.csv", site))


def test_the_days_page_reminds_the_keeper_alone_of_what_is_owed():
    for reminder in ("Keep your promise to ", "Look at Tide Lantern 1 and record its state"):
        assert reminder in HTML["index.html"]
        assert not any(reminder in page for page in drawn(sample.built(sample.seen("public"))).values())
