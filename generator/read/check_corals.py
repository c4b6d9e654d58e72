"""Checks of the corals: names, parents, lines, and days in their order."""

import re
from collections.abc import Iterator
from datetime import date
from difflib import SequenceMatcher

from generator.door.door import grouped, later
from generator.read.draft import Draft
from generator.read.plausible import impossible_water, warn
from generator.records.coral import Coral
from generator.records.source import Problem

with later():  # a large table
    from generator.nature import genera

_BINOMIAL = re.compile(r"[A-Z][a-z]+ (sp\.|(cf\. |aff\. )?[a-z]+(-[a-z]+)?)")
# The longest side (cm) of a coral in a tank; common practice, no source.
LONGEST = 300.0
_GENUS = re.compile(r"[A-Za-z][a-z]+")


def species_form(draft: Draft) -> Iterator[Problem]:
    """A species is written `Genus species`, or `Genus sp.` where only the genus is sure."""
    for coral in draft.of_a_species():
        if not _BINOMIAL.fullmatch(coral.species):
            source = draft.at(coral.source, "species")
            yield Problem(source, "species", f"'{coral.species}' is not a species name", _species_meant(coral.species))


def _species_meant(text: str) -> str:
    words = text.split()
    if words and _GENUS.fullmatch(words[0]):
        genus, second = words[0].capitalize(), words[1].lower().rstrip(".,") if len(words) > 1 else ""
        if len(words) < 3 and second in ("", "sp", "spp", "species", "?", "unknown", "cf", "aff"):
            return f"did you mean {genus} sp.?"
        if len(words) == 3 and second in ("cf", "aff") and re.fullmatch(r"[a-z]+(-[a-z]+)?", words[2].lower()):
            return f"did you mean {genus} {second}. {words[2].lower()}?"
        if len(words) == 2 and re.fullmatch(r"[a-z]+(-[a-z]+)?", second):
            return f"did you mean {genus} {second}?"
    return "write a scientific name such as Acropora millepora, or Acropora sp."


def parent_cycles(draft: Draft) -> Iterator[Problem]:
    """A coral that is its own ancestor."""
    settled: set[str] = set()
    for start in draft.corals:
        path: list[str] = []
        here: str | None = start
        while here is not None and here in draft.corals and here not in settled and here not in path:
            path.append(here)
            here = draft.corals[here].parent
        if here in path:
            circle = path[path.index(here) :]
            wrong = f"'{here}' is its own ancestor: {' from '.join([*circle, here])}"
            source = draft.at(draft.corals[here].source, "parent")
            also = draft.at(draft.corals[circle[-1]].source, "parent") if len(circle) > 1 else None
            yield Problem(source, "parent-cycle", wrong, "correct one of the parents", also)
        settled.update(path)


def lines_that_break(draft: Draft) -> Iterator[Problem]:
    """A coral belongs to the line of its parent."""
    for coral in draft.corals.values():
        parent = draft.corals.get(coral.parent or "")
        if parent and parent.line != coral.line:
            wrong = f"the line is '{coral.line}', but the parent's line is '{parent.line}'"
            also = draft.at(parent.source, "line")
            yield Problem(
                draft.at(coral.source, "line"), "line", wrong, f"write {parent.line}, or correct the parent", also
            )


def lines_almost_the_same(draft: Draft) -> Iterator[Problem]:
    """A line with one coral and a name close to another line's: most likely a typing mistake."""
    users = grouped((coral.line, coral) for coral in draft.corals.values())
    for line, corals in users.items():
        if len(corals) > 1 or corals[0].parent:
            continue
        meant = next((other for other in users if len(users[other]) > 1 and _nearly(line, other)), None)
        if meant:
            source, also = draft.at(corals[0].source, "line"), draft.at(users[meant][0].source, "line")
            wrong = f"the line '{line}' has only this coral and looks like '{meant}'"
            yield warn(source, "line-name", wrong, f"did you mean {meant}?", also)


def _nearly(one: str, other: str) -> bool:
    # Names that differ in a number differ on purpose.
    same_digits = re.sub(r"\D", "", one) == re.sub(r"\D", "", other)
    return one != other and same_digits and SequenceMatcher(None, one, other).ratio() >= 0.85


def names_twice(draft: Draft) -> Iterator[Problem]:
    """Two corals with the same name."""
    seen: dict[str, Coral] = {}
    for coral in draft.corals.values():
        first = seen.setdefault(coral.name.casefold(), coral)
        if first is not coral:
            source, also = draft.at(coral.source, "name"), draft.at(first.source, "name")
            yield warn(
                source, "name-twice", f"another coral has the name '{coral.name}'", "rename one of the two", also
            )


_Day = tuple[tuple[str | int, ...], date, str]


def _days(coral: Coral) -> Iterator[_Day]:
    """Every day of a coral's life that is written down: where, when, what."""
    for index, placement in enumerate(coral.placements):
        yield ("placements", index, "since"), placement.since, "placement"
    dated = ("sizes", "measurement"), ("weighings", "weighing"), ("cuttings", "cutting"), ("touches", "touch")
    for name, word in dated:
        for index, record in enumerate(getattr(coral, name)):
            yield (name, index, "at"), record.at, word
    for index, health in enumerate(coral.health):
        yield ("health", index, "at"), health.at, health.what.replace("-", " ")


def days_out_of_order(draft: Draft) -> Iterator[Problem]:
    """Something done before the coral came, or after it was gone; an end before its beginning."""
    for coral in draft.corals.values():
        came, gone = coral.arrival.at, coral.end.at if coral.end else None
        days = [*_days(coral), *([(("end", "at"), gone, "end")] if gone else [])]
        for path, day, what in days:
            if day < came:
                kind, wrong, other = "before-arrival", f"before the coral's arrival on {came}", "arrival"
            elif gone and day > gone:
                kind, wrong, other = "after-end", f"after the coral's end on {gone}", "end"
            else:
                continue
            at, also = draft.at(coral.source, *path), draft.at(coral.source, other, "at")
            yield Problem(at, kind, f"the {what} on {day} is {wrong}", "correct one of the two", also)
        yield from _ends_before_beginnings(coral, draft)


def _ends_before_beginnings(coral: Coral, draft: Draft) -> Iterator[Problem]:
    for index, cutting in enumerate(coral.cuttings):
        if cutting.healed and cutting.healed < cutting.at:
            source = draft.at(coral.source, "cuttings", index, "healed")
            yield Problem(
                source, "day-order", f"healed on {cutting.healed}, but cut on {cutting.at}", "correct one of the two"
            )
    for index, health in enumerate(coral.health):
        if health.until and health.until < health.at:
            source = draft.at(coral.source, "health", index, "until")
            wrong = f"the {health.what.replace('-', ' ')} ends on {health.until}, before it starts on {health.at}"
            yield Problem(source, "day-order", wrong, "correct one of the two")


def days_in_the_future(draft: Draft) -> Iterator[Problem]:
    """Something on a coral that has not happened yet."""
    for coral in draft.corals.values():
        days = [(("arrival", "at"), coral.arrival.at, "arrival"), *_days(coral)]
        days += [(("end", "at"), coral.end.at, "end")] if coral.end else []
        for path, day, what in days:
            if day > draft.today:
                wrong = f"the {what} on {day} is in the future; today is {draft.today}"
                yield Problem(draft.at(coral.source, *path), "future", wrong, _ahead(what))


def _ahead(what: str) -> str:
    plan = {"arrival": "coming", "end": "going", "placement": "moving"}.get(what)
    return f"correct the date, or plan it in plans/ under '{plan}:'" if plan else "correct the date"


def parents_that_came_later(draft: Draft) -> Iterator[Problem]:
    """A frag of our own that was cut before its parent came or after it was gone."""
    for coral in draft.corals.values():
        if coral.arrival.how == "cutting" and not coral.parent:
            source = draft.at(coral.source, "arrival", "how")
            yield warn(source, "no-parent", "the coral was cut here, but has no parent", "add 'parent: …'")
        parent = draft.corals.get(coral.parent or "")
        if parent is None or coral.arrival.how != "cutting":
            continue
        day = coral.arrival.at
        if day < parent.arrival.at:
            wrong, other = f"cut on {day}, before its parent '{parent.id}' came on {parent.arrival.at}", "arrival"
        elif parent.end and day > parent.end.at:
            wrong, other = f"cut on {day}, after the end of its parent '{parent.id}' on {parent.end.at}", "end"
        else:
            continue
        source, also = draft.at(coral.source, "arrival", "at"), draft.at(parent.source, other, "at")
        yield Problem(source, "parent-later", wrong, "correct one of the two", also)


def cuttings_of_another(draft: Draft) -> Iterator[Problem]:
    """A frag listed in a coral's cuttings whose parent is another coral."""
    for coral in draft.corals.values():
        for index, cutting in enumerate(coral.cuttings):
            for number, name in enumerate(cutting.into):
                piece = draft.corals.get(name)
                if piece and piece.parent != coral.id:
                    source = draft.at(coral.source, "cuttings", index, "into", number)
                    has = f"the parent '{piece.parent}'" if piece.parent else "no parent"
                    also = draft.at(piece.source, "parent") if piece.parent else piece.source
                    yield Problem(
                        source, "cutting", f"'{name}' has {has}", f"write 'parent: {coral.id}' in its file", also
                    )


def touches_that_cannot_be(draft: Draft) -> Iterator[Problem]:
    """A coral that touches itself, or one that was not here."""
    for coral in draft.corals.values():
        for index, touch in enumerate(coral.touches):
            other, path = draft.corals.get(touch.coral), ("touches", index, "coral")
            if other is coral:
                source = draft.at(coral.source, *path)
                yield Problem(source, "touch", f"'{coral.id}' touches itself", "name the neighbour that it touches")
            elif other and not (other.arrival.at <= touch.at and (other.end is None or touch.at <= other.end.at)):
                wrong = f"'{other.id}' was not here on {touch.at}"
                also = draft.at(other.source, "arrival", "at")
                yield Problem(draft.at(coral.source, *path), "touch", wrong, "correct the day or the coral", also)


def weighings_that_cannot_be(draft: Draft) -> Iterator[Problem]:
    """A holder heavier than holder and coral together, or a scale too coarse for the mass."""
    for coral in draft.corals.values():
        for weighing in coral.weighings:
            mass = weighing.mass.canonical()
            if weighing.holder and weighing.holder.canonical() >= mass:
                wrong = f"the holder, {weighing.holder}, is not lighter than coral and holder together, {weighing.mass}"
                yield Problem(
                    draft.at(weighing.source, "holder"), "weighing", wrong, "write the mass of both together as mass"
                )
            elif weighing.resolution.canonical() >= mass:
                wrong = f"the scale's resolution, {weighing.resolution}, is not smaller than the mass, {weighing.mass}"
                yield Problem(
                    draft.at(weighing.source, "resolution"), "weighing", wrong, "write the smallest step of the scale"
                )
            elif weighing.repeats and weighing.repeats.canonical() >= mass:
                wrong = f"a repeat differs by {weighing.repeats}, and the mass is {weighing.mass}"
                remedy = "write how much two weighings of one day usually differ"
                yield Problem(draft.at(weighing.source, "repeats"), "weighing", wrong, remedy)


def weighings_in_impossible_water(draft: Draft) -> Iterator[Problem]:
    """Water that nobody weighs a coral in."""
    for coral in draft.corals.values():
        for weighing in coral.weighings:
            for key, value in (("salinity", weighing.salinity), ("temperature", weighing.temperature)):
                if value and (found := impossible_water(value)):
                    yield Problem(draft.at(weighing.source, key), "implausible", *found)


def sizes_beyond_any_tank(draft: Draft) -> Iterator[Problem]:
    """A side too long for any tank: most likely a wrong unit."""
    for coral in draft.corals.values():
        for size in coral.sizes:
            for key in ("length", "width", "height"):
                side = getattr(size, key)
                if side is not None and side.canonical() > LONGEST:
                    wrong = f"a {key} of {side} is too large for a coral in a tank"
                    yield warn(draft.at(size.source, key), "size", wrong, "correct the unit")


def corals_without_a_place(draft: Draft) -> Iterator[Problem]:
    """A living coral without a placement, which counts in no system. A plan answers for the corals it brings."""
    by_plan = {plan.source.file for plan in draft.plans.values()}
    for coral in draft.corals.values():
        if not coral.placements and not coral.end and coral.source.file not in by_plan:
            wrong = f"'{coral.id}' is in no system"
            yield warn(coral.source, "no-place", wrong, "add 'placements:' with 'since' and 'system'")


def genera_unknown_or_given_up(draft: Draft) -> Iterator[Problem]:
    """A coral's genus that the table lacks or that has a new name; reported once for each genus."""
    said: set[str] = set()
    for coral in draft.of_a_species():
        name = genera.genus_name(coral.species)
        if name in genera.GENERA or name in said or not name.istitle():
            continue
        said.add(name)
        known, meant = genera.genus_of(name), genera.genus_meant(name)
        source = draft.at(coral.source, "species")
        if known:
            wrong = f"the genus {name} is now called {known.name}"
            yield warn(source, "genus", wrong, f"write {known.name}, or ignore this")
        else:
            remedy = f"did you mean {meant}?" if meant else "check the spelling, or ignore this"
            yield warn(source, "genus", f"Corallite does not know the genus {name}", remedy)


def safe_distances_of_no_genus(draft: Draft) -> Iterator[Problem]:
    """A safe distance in journal.yaml for a genus that neither the table nor any coral has."""
    if draft.settings is None:
        return
    known = {name.casefold() for name in genera.GENERA}
    known |= {genera.genus_name(coral.species).casefold() for coral in draft.of_a_species()}
    for name in draft.settings.safe_distances:
        if name not in known:
            source = draft.at(draft.settings.source, "safe_distances", name, of_key=True)
            meant = genera.genus_meant(name)
            remedy = f"did you mean {meant.lower()}?" if meant else "write a genus in lower case, for example galaxea"
            yield warn(source, "genus", f"there is no coral genus '{name}'", remedy)
