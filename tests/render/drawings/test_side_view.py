"""A tank from the front, to scale."""

import re

from generator.render.drawings.colony import Lit, Shelf, StandingColony, draw_front


def test_what_stands_higher_is_drawn_higher_and_all_sides_have_one_scale() -> None:
    shelves = [Shelf("low", "", 0, 100, 10), Shelf("high", "", 100, 100, 40)]
    corals = [StandingColony("1", 50, 10, 20, 10), StandingColony("2", 150, 40, 20, 10)]
    light = [Lit(0, 100, 10, 12, 0.2), Lit(100, 100, 40, 42, 0.9)]
    svg = draw_front("side", ("Front", "Light by height."), 200, 60, shelves, corals, light)
    floors = [float(y) for y in re.findall(r'class="p-shelf" d="M[\d.]+ ([\d.]+)h', svg)]
    assert [300 - y for y in floors] == [50, 200], "1000 units are 200 cm, the tank is 60 cm high"
    domes = re.findall(r"A([\d.]+) ([\d.]+) 0 0 1", svg)
    assert domes == [("50.0", "50.0")] * 2, "half of 20 cm across, 10 cm high"
    shades = [float(shade) for shade in re.findall(r'fill-opacity="([\d.]+)"', svg)]
    assert shades[0] < shades[1], "more light, a stronger tint"


def test_numbers_of_colonies_behind_each_other_do_not_stand_on_each_other() -> None:
    corals = [StandingColony("1", 50, 10, 20, 10), StandingColony("2", 51, 10, 20, 10)]
    svg = draw_front("side", ("Front", ""), 200, 60, [Shelf("rack", "", 0, 100, 10)], corals)
    first, second = (float(y) for y in re.findall(r'class="p-number[^"]*" x="[\d.]+" y="([\d.]+)"', svg))
    assert first - second >= 13


def test_a_colony_above_the_water_is_still_in_the_picture() -> None:
    svg = draw_front(
        "side", ("Front", ""), 100, 30, [Shelf("rack", "", 0, 100, 20)], [StandingColony("1", 50, 20, 10, 25)]
    )
    box = re.search(r'viewBox="-2 -22 1004 ([\d.]+)"', svg)
    assert box
    assert float(box[1]) >= 450


def test_a_later_day_shows_each_as_much_taller_as_it_is_wider() -> None:
    svg = draw_front("side", ("Front", ""), 200, 60, [], [StandingColony("1", 50, 10, 20, 10, ((6, 1.5, 2.0),))])
    assert re.findall(r'class="stage in-6"', svg)
    domes = re.findall(r'class="(p-[a-z]+)" d="M[\d. ]+A([\d.]+) ([\d.]+) 0 0 1', svg)
    assert domes == [("p-coral", "50.0", "50.0"), ("p-will", "75.0", "75.0"), ("p-may", "100.0", "100.0")]


def test_no_shelf_runs_through_the_words_of_the_one_above_it() -> None:
    shelves = [Shelf("upper", "200 PAR", 0, 100, 30), Shelf("lower", "90 PAR", 0, 100, 29)]
    svg = draw_front("side", ("Front", ""), 100, 60, shelves, [])
    lower = [float(y) for y in re.findall(r'class="p-shelf" d="M[\d.]+ ([\d.]+)h', svg)][1]
    top = float(re.findall(r'<text class="p-words" x="[\d.]+" y="([\d.]+)"', svg)[0])
    assert not top < lower < top + 20.0
