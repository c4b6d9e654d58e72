"""Options of hundreds of digits, and sizes beyond any tank: a message, never a traceback and never 'nan'."""

import re

import pytest

from tests.conftest import AS_OF
from tests.test_check_and_build import run

DIGITS = "9" * 400
HUGE = "999999999999"
DATED = ("--as-of", AS_OF)
PREDICT = ("predict", *DATED, "--system", "lagoon", "--genus", "Acropora", "--form", "branching")
PLACE = ("place", *DATED)
RECIPE = ("recipe", "--compound", "NaHCO3")
JOURNEY = ("journey", *DATED, "--container", "40x30x25 cm")
WORDS = [
    *[(*PREDICT, "--size", size) for size in (f"{DIGITS}x1x1 cm", f"{HUGE}x1x1 cm", "99999x99999x99999 m", "1e9x1x1")],
    *[
        (*PREDICT, "--size", "9x9x9 cm", "--mass", mass)
        for mass in (DIGITS, f"{DIGITS} g", f"{HUGE} kg", "0." + DIGITS)
    ],
    *[(*PREDICT, "--size", "9x9x9 cm", "--mass", "90 g", "--holder", f"{HUGE} kg")],
    *[(*PLACE, "--size", size) for size in (f"{DIGITS}x10 cm", f"{HUGE}x10 m", "0.0000000001x9 cm")],
    *[(*PLACE, "--size", "10x10 cm", "--most", most) for most in (DIGITS, "0", "-3", "9" * 5000)],
    *[(*PLACE, "--size", "10x10 cm", "--light", light) for light in (DIGITS, f"{DIGITS} PAR", f"{HUGE} PAR")],
    *[(*JOURNEY, "--colony", "9x9x9 cm", "--duration", time) for time in (f"{DIGITS} h", f"{HUGE} days", "0 h")],
    (*JOURNEY, "--colony", f"{DIGITS}x9x9 cm", "--duration", "1 h"),
    (*JOURNEY, "--colony", "9x9x9 cm", "--duration", "1 h", "--mass", f"{HUGE} kg"),
    (*JOURNEY, "--colony", "9x9x9 cm", "--duration", "1 h", "--water", f"{HUGE} °C", "--air", f"-{HUGE} °C"),
    (*JOURNEY, "--colony", "9x9x9 cm", "--duration", "1 h", "--padding", f"{HUGE} m"),
    *[
        (*RECIPE, "--volume", volume, "--strength", "80 g/L")
        for volume in (f"{DIGITS} L", f"{HUGE} L", f"0.{DIGITS} L")
    ],
    *[(*RECIPE, "--volume", "5 L", "--alkalinity", level) for level in (f"{DIGITS} dKH", f"{HUGE} dKH")],
    *[("origin", *DATED, "tide-lantern-1", "--frags", number) for number in (DIGITS, "9" * 5000, "0", "-1")],
    *[(command, *DATED, DIGITS) for command in ("sheet", "what-if")],
    *[(command, DIGITS) for command in ("arrive", "verify", "demo")],
    *[(command, "--as-of", DIGITS) for command in ("check", "build", "predict")],
    *[(command, "--content", "x" * 5000) for command in ("check", "build", "schemas", "tidy")],
    ("build", "--audience", DIGITS),
    ("recipe", "--compound=--", "--volume=--", "--strength=--"),
    *[("build", "--base-url", url) for url in (DIGITS, "http://reef.example/", "https://[::1/", "https://")],
    ("build", *DATED, "--site", "x" * 5000),
    ("take-in", "x", "--at", DIGITS),
    ("note", *DATED, "lagoon", f"alk {DIGITS}", "--try"),
]


@pytest.mark.parametrize(
    "words", WORDS, ids=lambda words: " ".join(word[:12] for word in words if word not in DATED)[:70]
)
def test_an_absurd_option_brings_a_message(words: tuple[str, ...]) -> None:
    code, said = run(*words)
    assert code in (0, 1, 2)
    assert said.strip()
    assert "Traceback" not in said
    assert not re.search(r"\b(nan|inf)\b", said), said[:500]
