"""One that knows more catches more typing mistakes at as many doubts: a small run."""

import pytest

from tests.accuracy.mistakes import mistakes

pytestmark = pytest.mark.long


def test_one_that_knows_that_nothing_else_happens_catches_more_mistakes_than_our_odds() -> None:
    caught = {row.name: row.value for row in mistakes(3, 12)}
    ours, knowing = (
        [share for name, share in caught.items() if name.endswith(end)]
        for end in ("our odds", "one that knows nothing else happens")
    )
    assert len(ours) == len(knowing) == 3
    assert all(share >= 0.5 for share in ours)
    assert all(more >= less for more, less in zip(knowing, ours, strict=True))
    assert sum(knowing) > sum(ours)
