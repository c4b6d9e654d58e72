"""The files as a keeper types them: YAML by hand, short things in one line."""

from datetime import datetime

from tests.simulator.keeper import Moment

Value = object


def modeline(kind: str, depth: int) -> str:
    """The comment by which an editor finds the schema of a kind of file."""
    return f"# yaml-language-server: $schema={'../' * depth}.schemas/{kind}.json\n"


def flow(value: Value) -> str:
    """A value in one line: mappings in braces, lists in brackets."""
    if isinstance(value, dict):
        return "{" + ", ".join(f"{key}: {flow(one)}" for key, one in value.items()) + "}"
    if isinstance(value, (list, tuple)):
        return "[" + ", ".join(flow(one) for one in value) + "]"
    if isinstance(value, bool):
        return "true" if value else "false"
    text = str(value)
    return f'"{text}"' if set(text) & set(',:{}[]#"') else text


def block(fields: dict[str, Value], indent: str = "") -> str:
    """A mapping one key a line; lists of mappings one item a line."""
    lines = []
    for key, value in fields.items():
        if value is None or value == [] or value == {}:
            continue
        if isinstance(value, list) and value and isinstance(value[0], dict):
            lines.append(f"{indent}{key}:")
            lines += [f"{indent}  - {flow(one)}" for one in value]
        elif isinstance(value, dict) and any(isinstance(one, dict) for one in value.values()):
            lines.append(f"{indent}{key}:")
            lines.append(block(value, indent + "  ").rstrip("\n"))
        else:
            lines.append(f"{indent}{key}: {plain(value)}")
    return "\n".join(lines) + "\n"


def plain(value: Value) -> str:
    """A value after `key: ` on a line of its own, where commas need no quotes."""
    if isinstance(value, str):
        return f'"{value}"' if ": " in value or " #" in value or value[:1] in "[]{}&*!|>'\"%@`" else value
    return flow(value)


def log_file(moments: list[Moment]) -> str:
    """One month of a system's log."""
    text = modeline("logs", 2)
    for moment in moments:
        text += f"- at: {moment.at:%Y-%m-%d %H:%M}\n"
        for key, value in moment.parts.items():
            text += f"  {key}: {plain(value)}\n"
    return text


def months(log: list[Moment]) -> dict[str, list[Moment]]:
    """A log by month, ``2026-03``."""
    found: dict[str, list[Moment]] = {}
    for moment in log:
        found.setdefault(f"{datetime(moment.at.year, moment.at.month, 1):%Y-%m}", []).append(moment)
    return found
