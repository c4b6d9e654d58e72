"""Changes and refusals as one line each, for the table of lines."""

from collections.abc import Iterator

from generator.shorthand.finish import Fact, Understood, Value


def said(found: Understood) -> Iterator[str]:
    """`into coral: part value, part value @ day hour` for each change, `! message` for each refusal."""
    for change in found.changes:
        parts = ", ".join(f"{name} {_value(value)}" for name, value in change.values.items())
        clock = f" {change.at.clock:%H:%M}" if change.at.clock else ""
        yield f"{_field(change)}: {parts} @ {change.at.day:%m-%d}{clock}"
    for refusal in found.refusals:
        yield f"! {refusal}"


def _field(change: Fact) -> str:
    return f"{change.into} {change.coral}".strip()


def _value(value: Value) -> str:
    return str(value)
