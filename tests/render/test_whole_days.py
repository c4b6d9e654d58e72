"""A day is one word, and so is a number with its unit or to another: no line ends within."""

import pytest

from generator.render.base.page import keep_whole

HELD = '<span class="whole">2026-11-22</span>'


@pytest.mark.parametrize(
    ("written", "shown"),
    [
        ("<p>From 2026-11-22 on.</p>", f"<p>From {HELD} on.</p>"),
        ("<p>Until 2026-11-22.</p>", f"<p>Until {HELD}.</p>"),
        ("<li>Touches: 2026-11-22 (or later)</li>", f"<li>Touches: {HELD} (or later)</li>"),
        ('<td class="x">2026-11-22</td>', f'<td class="x">{HELD}</td>'),
        ("<p>6.5 kg, or 40 mL\nof it at 25.4 °C</p>", "<p>6.5\u00a0kg, or 40\u00a0mL\nof it at 25.4\u00a0°C</p>"),
        ("<p>2 %, 16 by 3\ncm, 8 mg/L</p>", "<p>2\u00a0%, 16 by 3\u00a0cm, 8\u00a0mg/L</p>"),
        ("<p>At 40 mL <code>x.yaml</code></p>", "<p>At 40\u00a0mL <code>x.yaml</code></p>"),
        ("<p>in 2 months, vor 6 Tagen, 3 kg/m3</p>", "<p>in 2\u00a0months, vor 6\u00a0Tagen, 3\u00a0kg/m3</p>"),
        ("<td>210–280 PAR</td>", '<td><span class="whole">210–280</span>\u00a0PAR</td>'),
    ],
)
def test_a_day_or_a_number_with_its_unit_in_running_text_is_held_together(written: str, shown: str) -> None:
    assert keep_whole(written) == shown


@pytest.mark.parametrize(
    "as_it_was",
    [
        "<head><title>2026-11-22</title></head>",
        '<a href="2026-11-22-hello.html" title="2026-11-22">on</a>',
        '<time datetime="2026-11-22">2026-11-22</time>',
        "<svg><text>2026-11-22</text></svg>",
        '<script type="application/json">{"at":"2026-11-22"}</script>',
        "<code>logs/2026-11-22.yaml:3</code>",
        '<pre><code>corallite note lagoon "dosed soda 40 mL"</code></pre>',
        '<p title="40 mL">9 in 10, 2 monthly, 3 legs</p>',
        "<li>2026-11-22, 08:40</li>",
    ],
)
def test_what_is_no_running_text_stays_as_it_was(as_it_was: str) -> None:
    assert keep_whole(as_it_was) == as_it_was
