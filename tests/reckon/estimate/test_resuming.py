"""Courses that begin alike: what a process that lives on makes of the later one is what a fresh one makes."""

import numpy as np
import pytest
from msgspec.structs import replace

from generator.reckon.estimate.kept_courses import KEPT_COURSES
from generator.reckon.estimate.multiprocess import Followed, Process
from generator.reckon.estimate.stories import follow
from tests.reckon.estimate.test_stories import process

READ = 8.0 - 0.5 * np.arange(60.0) + np.random.default_rng(3).normal(0.0, 0.15, 60)


@pytest.fixture(autouse=True)
def of_this_test_alone():
    yield
    KEPT_COURSES.keep(0)


def alike(one: Followed, other: Followed) -> bool:
    ends = (one.last, *one.after, *one.turns), (other.last, *other.after, *other.turns)
    return one.log_likelihood == other.log_likelihood and all(
        np.array_equal(getattr(mine, part), getattr(theirs, part))
        for mine, theirs in zip(*ends, strict=True)
        for part in mine.__struct_fields__
    )


def changed(value: float, at: int) -> Process:
    read = READ.copy()
    read[at] = value
    return process(read)


def without_branches(at: int) -> Process:
    of = process(READ)
    return replace(of, branches=(*of.branches[:at], None, *of.branches[at + 1 :]))


@pytest.mark.parametrize(
    "later",
    [
        process(np.append(READ, [-22.1, -22.4])),
        process(READ[:-1]),
        process(READ),
        changed(-25.0, 59),
        changed(9.0, 30),
        changed(9.0, 0),
        without_branches(40),
        replace(process(READ), q2=np.full(1, 2.0)),
        replace(process(READ), scale=0.5),
        process(READ, considered=slice(1, 2)),
    ],
    ids=["more", "fewer", "same", "last", "middle", "first", "quiet", "noise", "scale", "considered"],
)
def test_a_course_that_goes_on_from_another_is_followed_to_the_last_bit_as_by_itself(later):
    by_itself = follow(later)
    KEPT_COURSES.keep(3)
    follow(process(READ))
    assert alike(follow(later), by_itself)
    assert alike(follow(later), by_itself)


def test_only_what_is_new_is_followed():
    KEPT_COURSES.keep(3)
    before = follow(process(READ))
    after = follow(process(np.append(READ, -22.1)))
    assert after.turns[58] is before.turns[58]
    middle = follow(changed(9.0, 30))
    assert middle.turns[23] is before.turns[23]
    assert middle.turns[24] is not before.turns[24]


def test_no_more_courses_are_kept_than_asked_and_the_later_stands_in_for_the_one_it_went_on_from():
    KEPT_COURSES.keep(2)
    first = follow(process(READ))
    for last in (-22.1, -22.2, -22.3):
        follow(process(np.append(READ, last)))
    other = follow(process(READ[::-1].copy()))
    assert follow(process(READ)).turns[50] is first.turns[50]
    follow(process(READ[::-1].copy() + 1.0))
    follow(process(READ[::-1].copy() + 2.0))
    assert follow(process(READ[::-1].copy())).turns[50] is not other.turns[50]
