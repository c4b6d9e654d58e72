"""What each audience may see, over every byte of its site."""

from datetime import date

import pytest

from generator.door.door import Door
from generator.reckon.analysis.journal import analyse
from generator.records.coral import Audience, End, Photo, Placement, Touch
from generator.records.settings import Publish
from generator.records.source import Source
from generator.render.audience import View, view
from generator.render.base.texts import all_shown, photos_shown
from generator.render.found import found_for
from tests.render import sample
from tests.render.pages import drawn


def everything(audience: str, **given: object) -> str:
    """Every page and file of an audience's site as one text, addresses included."""
    site = sample.built(sample.seen(audience, **given))
    assert not site.problems
    files = [f"{url}\n{content.decode(errors='replace')}" for url, content in site.files.items()]
    return "\n".join([*(f"{url}\n{html}" for url, html in drawn(site).items()), *files])


def test_the_keeper_sees_everything_that_is_on_a_page() -> None:
    # Otherwise the tests below would find no canary because no page shows such a thing at all.
    own = everything("own").replace("CANARY-name", "")
    for kept in ("coral", "permit", "arrival", "entry", "body", "story", "room", "owed", "inspection", "private-trade"):
        assert f"CANARY-{kept}" in own, kept
    assert "canary-photo" not in own, "the sample gives no copies of that photo"
    assert "71234.50\u00a0EUR" in own


@pytest.mark.parametrize("audience", ["public", "partners"])
def test_nothing_private_is_in_any_byte(audience: str) -> None:
    text = everything(audience).casefold()
    found = text.find("canary")
    assert found == -1, text[max(0, found - 200) : found + 60]
    assert "71234" not in text


@pytest.mark.parametrize("audience", ["public", "partners"])
def test_what_was_calculated_names_nothing_that_is_not_in_the_view(audience: str) -> None:
    found = analyse(sample.journal(), sample.AS_OF)
    hidden = ("'back-coral'", "'back-room'", "CANARY")
    assert all(name in repr(found) for name in hidden)
    told = repr(found_for(sample.seen(audience), found))
    assert not [name for name in hidden if name in told]


def test_a_partner_is_named_in_public_only_if_both_agree() -> None:
    naming = sample.settings(publish=Publish(source=Source("journal.yaml"), partner_names=True))
    willing = {"canary-person": sample.partner("name", "trades")}
    unwilling = {"canary-person": sample.partner("trades")}
    assert "Someone by the bay" in everything("public", settings=naming, partners=willing)
    assert "Someone by the bay" not in everything("public", settings=naming, partners=unwilling)
    assert "Someone by the bay" not in everything("public", partners=willing)


def test_a_trade_is_public_only_if_the_partner_shows_trades() -> None:
    silent = {"canary-person": sample.partner()}
    assert "2026-02-01-swap" not in everything("public", partners=silent)
    assert "trades/2026-02-01-swap.html" in everything("public")


def test_a_region_of_origin_stays_out_when_the_keeper_says_so() -> None:
    assert "Coral Sea" in everything("public")
    hiding = sample.settings(publish=Publish(source=Source("journal.yaml"), region_of_origin=False))
    assert "Coral Sea" not in everything("public", settings=hiding)


def test_a_coral_in_a_hidden_system_does_not_seem_to_stand_where_it_stood_before() -> None:
    def placed(*systems: str) -> tuple[Placement, ...]:
        here = Source("corals/tide-lantern-1.yaml")
        days = (date(2026, 2, 1 + number) for number in range(len(systems)))
        return tuple(Placement(source=here, since=day, system=id) for day, id in zip(days, systems, strict=True))

    def public(*systems: str) -> list[str]:
        coral = sample.coral(placements=placed(*systems))
        journal = sample.journal(corals={coral.id: coral})
        return [placement.system for placement in view(journal).corals[coral.id].placements]

    assert public("lagoon", "back-room") == []
    assert public("back-room", "lagoon") == ["lagoon"]
    assert public("lagoon", "lagoon") == ["lagoon", "lagoon"]


def test_a_touch_does_not_name_a_neighbour_that_the_audience_may_not_see() -> None:
    touches = tuple(
        Touch(source=Source("corals/tide-lantern-1.yaml"), at=date(2026, 2, 1), coral=id) for id in ("shy", "open")
    )
    corals = sample.coral(touches=touches), sample.coral(id="shy", audience="own"), sample.coral(id="open")
    seen = view(sample.journal(corals={coral.id: coral for coral in corals})).corals[corals[0].id]
    assert [touch.coral for touch in seen.touches] == ["open"]


def photos_of(view: View) -> tuple[str, ...]:
    return photos_shown(all_shown(Door(), view.corals, view.entries)())


def test_only_photos_the_audience_may_see_are_asked_for() -> None:
    assert photos_of(sample.seen("public")) == ("photos/lantern.jpg",)
    assert "photos/canary-photo.jpg" in photos_of(sample.seen("own"))


@pytest.mark.parametrize(
    ("shows", "public"), [((), {"home.jpg", "undated.jpg"}), (("photos",), {"home.jpg", "undated.jpg", "there.jpg"})]
)
def test_a_picture_from_a_partners_hands_is_shown_only_if_they_agreed(shows: tuple[str, ...], public: set[str]) -> None:
    here = Source("corals/ember.yaml")
    days = {"home.jpg": date(2026, 2, 20), "there.jpg": date(2026, 4, 1), "undated.jpg": None}
    photos = tuple(Photo(source=here, file=file, alt="Ember", at=at) for file, at in days.items())
    end = End(source=here, at=date(2026, 3, 1), how="given", partner="canary-person")
    given = {
        "corals": {"ember": sample.coral("ember", photos=photos, end=end)},
        "partners": {"canary-person": sample.partner(*shows)},
    }

    def shown(audience: Audience, partner: str | None = None) -> set[str]:
        return {photo.file for photo in view(sample.journal(**given), audience, partner).corals["ember"].photos}

    assert shown("public") == shown("partners") == public
    assert shown("own") == shown("partners", "canary-person") == set(days)
