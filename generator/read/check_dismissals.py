"""Checks of dismissals: each must name an alert that the day's page can have."""

from collections.abc import Collection, Iterator

from generator.read.draft import Draft
from generator.read.near import did_you_mean
from generator.records.log import ALERTS_ABOUT
from generator.records.problem import Problem
from generator.units.kinds import WATER_KINDS

Wrong = tuple[str, str]


def dismissals_of_nothing(draft: Draft) -> Iterator[Problem]:
    """A dismissed alert of an unknown kind, of another system, or about an unknown quantity, coral, line or trade."""
    for system, log in draft.written.items():
        for dismissed in (written.entry for written in log if written.entry.dismiss):
            assert dismissed.dismiss is not None
            if wrong := _wrong(draft, system, dismissed.dismiss.alert):
                source = draft.at(dismissed.source, "dismiss", "alert")
                yield Problem(source, "dismissal", *wrong, severity="warning")


def _wrong(draft: Draft, system: str, written: str) -> Wrong | None:
    kind, *rest = written.split("/")
    if kind not in ALERTS_ABOUT:
        form = f"write {kind}/{system}/QUANTITY/MARK, as the day's page shows it"
        return f"there is no kind of alert '{kind}'", did_you_mean(kind, ALERTS_ABOUT, form)
    what = ALERTS_ABOUT[kind]
    # An alert that belongs to no system, such as a promise, can be dismissed in any log.
    anywhere = what != "quantity"
    form = f"write {kind}/{system}/{what.upper()}/MARK, as the day's page shows it"
    if len(rest) != 3 or not rest[1] or not rest[2] or not (rest[0] or anywhere):
        return f"'{written}' is not an alert", form
    if rest[0] not in (system, ""):
        return f"'{written}' belongs to another system", f"dismiss it in the log of '{rest[0]}'"
    known = _known(draft, what)
    named = rest[1].split("+") if kind == "neighbours-touch" else [rest[1]]
    for name in named:
        if name not in known:
            wrong = f"no alert can be about '{name}'" if what == "quantity" else f"there is no {what} '{name}'"
            return wrong, did_you_mean(name, known, form)
    if kind == "neighbours-touch" and len(named) != 2:
        return f"'{written}' must name two corals", f"write {kind}/{system}/CORAL+CORAL/touch"
    return None


def _known(draft: Draft, what: str) -> Collection[str]:
    match what:
        case "line":
            return {coral.line for coral in draft.corals.values()}
        case "coral":
            return draft.names["corals"]
        case "trade" | "plan":
            return draft.names[f"{what}s"]
        case _:
            return WATER_KINDS
