"""Rounding, units and moments as the pages show them."""

from datetime import UTC, date, datetime
from zoneinfo import ZoneInfo

import pytest

from generator.reckon.water.seawater import REFERENCE_PAIRS, specific_gravity
from generator.records.log import Reading
from generator.records.source import Source
from generator.render.base.numbers import Display, Say, decimals, plain
from generator.render.base.words import words_of
from generator.units.quantity import Estimate, Quantity

T = words_of("en")
LISBON = ZoneInfo("Europe/Lisbon")
IN_DKH = Display(LISBON, {"alkalinity": "dKH", "temperature": "°F"})
SAY = Say(IN_DKH, T)


# Two digits of the half-width where they begin with 1 or 2, else one: after the Particle Data Group's rule.
@pytest.mark.parametrize(
    ("half_width", "digits"), [(0.14, 2), (0.25, 2), (0.3, 1), (0.9, 1), (1.9, 1), (4, 0), (23, 0), (45, -1), (0.02, 3)]
)
def test_an_estimate_shows_no_more_digits_than_its_interval_knows(half_width: float, digits: int) -> None:
    assert decimals(half_width) == digits


def test_uptake_is_said_in_the_journals_unit_with_its_interval_in_words() -> None:
    # 1 dKH is 0.35665 meq/L: 20 / 56.077 g/mol CaO, standard atomic weights.
    said = SAY.per_day("alkalinity", Estimate(0.3780, 0.3281, 0.4280, "meq/L/day"))
    assert said.value == "1.06\u00a0dKH\u00a0a\u00a0day"
    assert said.interval == "likely 0.92 to 1.20\u00a0dKH\u00a0a\u00a0day"


def test_an_amount_is_said_in_grams_a_day() -> None:
    said = SAY.amount(Estimate(7.42, 6.2, 8.6, "g/day"))
    assert (said.value, said.interval) == ("7.4\u00a0g\u00a0a\u00a0day", "likely 6.2 to 8.6\u00a0g\u00a0a\u00a0day")


def test_a_level_in_fahrenheit_has_its_offset_and_a_change_has_not() -> None:
    # 25 °C is 77 °F; a change of 1 °C is one of 1.8 °F.
    assert SAY.level("temperature", Estimate(25, 24, 26, "°C")).value == "77.0\u00a0°F"
    assert SAY.per_day("temperature", Estimate(1, 0, 2, "°C/day")).value.startswith("1.8\u00a0°F")


def test_a_reading_keeps_the_digits_it_was_written_with() -> None:
    def said(quantity: Quantity) -> str:
        reading = Reading(source=Source("x"), at=datetime(2026, 1, 1, tzinfo=UTC), kind=quantity.kind, value=quantity)
        return SAY.reading(reading, quantity.canonical())

    assert said(Quantity(8.0, "dKH", "alkalinity", 1)) == "8.0\u00a0dKH"
    assert said(Quantity(2.9, "meq/L", "alkalinity", 1)) == "8.13\u00a0dKH"
    assert said(Quantity(0.02, "mg/L", "phosphate", 2, below=True)) == "below 0.02\u00a0mg/L"


def test_a_unit_without_a_factor_is_not_used_to_show_numbers() -> None:
    assert Display(LISBON, {"salinity": "mS/cm"}).unit("salinity") == "psu"
    assert Display(LISBON, {"ph": "total"}).unit("ph") == "NBS"


@pytest.mark.parametrize("pair", sorted(REFERENCE_PAIRS))
def test_who_reads_salt_as_specific_gravity_is_shown_it_so(pair: str) -> None:
    say = Say(Display(LISBON, {"salinity": pair}), T)
    for psu in (30.0, 34.0, 35.0, 36.0, 42.0):
        assert say.display.level("salinity", psu) == pytest.approx(specific_gravity(psu, pair), abs=1.5e-5)
    assert say.display.level("salinity", 20.0) == pytest.approx(specific_gravity(20.0, pair), abs=5e-5)
    one = specific_gravity(36.0, pair) - specific_gravity(35.0, pair)
    assert say.display.change("salinity", 1.0) == pytest.approx(one, abs=1e-5)
    assert say.canonical("salinity", 35.0) == f"{specific_gravity(35.0, pair):.4f}\u00a0{pair}"


@pytest.mark.parametrize(("language", "year", "month"), [("en", "a year", "a month"), ("de", "im Jahr", "im Monat")])
def test_an_inch_is_spelt_out_where_it_would_be_read_as_a_word(language: str, year: str, month: str) -> None:
    inches = {"en": "inches", "de": "Zoll"}[language]
    said = [words_of(language).unit(unit).replace("\u00a0", " ") for unit in ("in/year", "in/month", "cm/month")]
    assert said == [f"{inches} {year}", f"{inches} {month}", f"cm {month}"]


def test_numbers_have_a_true_minus_and_no_negative_nought() -> None:
    assert plain(T, -1.25, 1) == "\u22121.2"
    assert plain(T, -0.04, 1) == "0.0"
    assert plain(T, 1234, -2) == "1200"


def test_a_standard_uncertainty_has_two_digits() -> None:
    assert SAY.deviation(0.05349, "dKH") == "±0.053\u00a0dKH"
    assert SAY.deviation(12.6, "mg/L") == "±13\u00a0mg/L"
    assert SAY.deviation(0.0, "g") == "±0\u00a0g"


@pytest.mark.parametrize(
    ("order", "said"),
    [("year-month-day", "2026-03-02"), ("day-month-year", "2\u00a0Mar 2026"), ("month-day-year", "Mar\u00a02, 2026")],
)
def test_a_day_follows_the_journals_order_and_carries_the_same_for_machines(order: str, said: str) -> None:
    shown = Say(Display(LISBON, {}, order), T).day(date(2026, 3, 2))
    assert (shown.text, shown.iso) == (said, "2026-03-02")


def test_a_moment_is_told_on_the_keepers_clock() -> None:
    # Lisbon is an hour ahead of UTC in summer.
    shown = SAY.moment(datetime(2026, 7, 1, 23, 30, tzinfo=UTC))
    assert (shown.text, shown.iso) == ("2026-07-02, 00:30", "2026-07-02T00:30+01:00")


def test_an_age_counts_the_keepers_own_days() -> None:
    evening, morning = datetime(2026, 7, 1, 22, 30, tzinfo=UTC), datetime(2026, 7, 1, 23, 30, tzinfo=UTC)
    assert SAY.age(evening, evening) == "today"
    assert SAY.age(evening, morning) == "yesterday"
    assert SAY.age(datetime(2026, 6, 22, 12, tzinfo=UTC), evening) == "9 days ago"


def test_amounts_below_each_other_have_the_same_decimals() -> None:
    column = [Estimate(0.61, 0.44, 0.84, "g/day"), Estimate(0.3, 0.0, 3.1, "g/day"), Estimate(14.2, 5, 38, "g/day")]
    said = [(each.value, each.interval) for each in SAY.amounts(column)]
    assert [value.replace("\u00a0", " ") for value, _ in said] == ["0.6 g a day", "0.3 g a day", "14.2 g a day"]
    assert said[1][1].replace("\u00a0", " ") == "likely 0.0 to 3.1 g a day"


@pytest.mark.parametrize(
    ("unit", "hand", "ruler"),
    [
        ("cm", "20 cm", "20.0 × 7.6 cm"),
        ("mm", "200 mm", "200 × 76 mm"),
        ("m", "0.20 m", "0.200 × 0.076 m"),
        ("in", "7.9 in", "7.9 × 3.0 in"),
    ],
)
def test_a_length_is_told_as_finely_as_it_is_measured_in_any_unit(unit: str, hand: str, ruler: str) -> None:
    # An inch is 2.54 cm by definition (international yard and pound agreement, 1959).
    display = Display(LISBON, {"length": unit})
    assert Say(display, T).length(20.0).replace("\u00a0", " ") == hand
    assert Say(display, T).length(20.0, 7.62, fine=True).replace("\u00a0", " ") == ruler


def test_all_lengths_of_a_journal_are_in_its_unit_whatever_the_keeper_wrote() -> None:
    in_cm = Say(Display(LISBON, {"length": "cm"}), T)
    in_inches = Say(Display(LISBON, {"length": "in"}), T)
    assert in_cm.written(Quantity(3.5, "in", "length", 1)) == "8.9\u00a0cm"
    assert in_cm.written(Quantity(12.0, "cm", "length", 0)) == "12\u00a0cm", "as exact as it was written"
    assert in_inches.written(Quantity(3.25, "in", "length", 2)) == "3.25\u00a0in"
    assert in_inches.written(Quantity(12.7, "cm", "length", 1)) == in_inches.length(12.7, fine=True)
