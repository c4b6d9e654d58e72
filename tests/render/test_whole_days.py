"""A day is one word: no line ends between its month and its day of the month."""

import pytest

from generator.render.base.environment import keep_days_whole

HELD = '<span class="whole">2026-11-22</span>'


@pytest.mark.parametrize(
    ("written", "shown"),
    [
        ("<p>From 2026-11-22 on.</p>", f"<p>From {HELD} on.</p>"),
        ("<p>Until 2026-11-22.</p>", f"<p>Until {HELD}.</p>"),
        ("<li>Touches: 2026-11-22 (or later)</li>", f"<li>Touches: {HELD} (or later)</li>"),
        ('<td class="x">2026-11-22</td>', f'<td class="x">{HELD}</td>'),
    ],
)
def test_a_day_in_running_text_is_held_together(written: str, shown: str) -> None:
    assert keep_days_whole(written) == shown


@pytest.mark.parametrize(
    "as_it_was",
    [
        "<head><title>2026-11-22</title></head>",
        '<a href="2026-11-22-hello.html" title="2026-11-22">on</a>',
        '<time datetime="2026-11-22">2026-11-22</time>',
        "<svg><text>2026-11-22</text></svg>",
        '<script type="application/json">{"at":"2026-11-22"}</script>',
        "<code>logs/2026-11-22.yaml:3</code>",
        "<li>2026-11-22, 08:40</li>",
    ],
)
def test_what_is_no_running_text_stays_as_it_was(as_it_was: str) -> None:
    assert keep_days_whole(as_it_was) == as_it_was
