"""What CI and developers install is locked: each package at one version, each file by its digest."""

import re
import tomllib

from packaging.requirements import Requirement
from packaging.utils import canonicalize_name

from tests.conftest import ROOT

PROJECT = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["project"]
LOCKED = re.findall(
    r"(?m)^([\w.-]+)==([^\s;]+)[^\n]*\\\n((?: +--hash=sha256:[0-9a-f]{64}(?: \\)?\n)+)",
    (ROOT / ".ci/locked.txt").read_text(),
)


def asked_for() -> list[Requirement]:
    extras = PROJECT["optional-dependencies"].values()
    named = [Requirement(text) for text in (*PROJECT["dependencies"], *(text for extra in extras for text in extra))]
    return [each for each in named if canonicalize_name(each.name) != PROJECT["name"]]


def test_every_package_that_is_asked_for_is_locked_at_a_version_that_will_do() -> None:
    versions: dict[str, list[str]] = {}
    for name, version, _ in LOCKED:
        versions.setdefault(canonicalize_name(name), []).append(version)
    for each in asked_for():
        held = versions.get(canonicalize_name(each.name), [])
        assert held, f"{each.name} is not locked (run .ci/lock)"
        assert all(version in each.specifier for version in held), f"{each} is locked at {held} (run .ci/lock)"


def test_nothing_is_locked_without_a_digest_and_no_place_to_get_it_from_is_named() -> None:
    text = (ROOT / ".ci/locked.txt").read_text()
    assert len(LOCKED) == len(re.findall(r"(?m)^[\w.-]+==", text)) > 60
    assert not re.search(r"https?://|--index|--find-links|@ ", text)


def test_each_package_of_the_program_has_a_reason() -> None:
    reasons = (
        (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8").split("## Why these packages", 1)[1].split("\n## ", 1)[0]
    )
    optional = PROJECT["optional-dependencies"]
    for text in (*PROJECT["dependencies"], *optional["gather"], *optional["heic"]):
        assert re.search(rf"(?m)^- \*\*{re.escape(Requirement(text).name)}\*\*.*: \S", reasons), text
