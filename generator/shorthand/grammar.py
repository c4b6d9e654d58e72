"""From a line of shorthand to changes: the few rules; all words are in the tables.

A line is parted by `;` or a new line into segments. A segment is a list of facts, with a comma or nothing between
them, and a time before or after them; or it is a note in the keeper's own words. Whatever has a number in it must be
understood as a fact, or be marked as a note: no number is ever taken for words.
"""

import re
from collections.abc import Iterator, Sequence
from datetime import date

from msgspec import Struct
from msgspec.structs import replace

from generator.shorthand.finish import (
    ALL,
    OF_ALL,
    OF_SEVERAL,
    CannotMean,
    Fact,
    Refusal,
    Stamp,
    Terms,
    Understood,
    Value,
    finished,
)
from generator.shorthand.moments import NoSuchTime, Said, moment_meant, read_moment
from generator.shorthand.refusing import beside_all, dry_dose, example_of, lacks, not_understood, unnamed, when_or_what
from generator.shorthand.scanner import FactWords, Scanner, Slot, Tables, folded_text, nearly, word_tables
from generator.shorthand.slots import Reader
from generator.units.quantity import NotAQuantity

# Longer lines are no shorthand; reading one takes time that grows with its length squared.
LONGEST = 4000

_SEGMENT = re.compile(r"(?:\"[^\"]*\"|[^;\n\"]|\")+?(?=[;\n]|$)")
_TO_THE_COMMA = re.compile(r"(?:\d,\d|[^,])*")
_JOINED = re.compile(r"-[^\W\d]")  # after the first part of a longer word: 'new-water' begins no new coral
_UNSAID = Stamp(date.min)  # stands for the time that the line says, until all of it has been read


class _Failed(Struct, frozen=True):
    """A fact that was begun and is not whole: up to where it could be read, and why not further."""

    place: int
    refusal: Refusal


def understood(text: str, known: Terms) -> Understood:
    """What a line means, and every part of it that means nothing."""
    if len(text) > LONGEST:
        return Understood((), (Refusal(text[:40], "the line is too long", f"write at most {LONGEST} letters"),))
    odd = next((each for each in text if not each.isprintable() and not each.isspace()), "")
    if odd:
        code = odd.encode("unicode_escape").decode("ascii")
        return Understood((), (Refusal(code, f"the line has the character {code}", "leave it out"),))
    line = _Line(known, word_tables())
    for segment in _SEGMENT.finditer(text):
        if segment[0].strip():
            line.segment(Scanner(segment[0]))
    return line.result()


class _Line:
    """One line while it is being read."""

    def __init__(self, known: Terms, words: Tables) -> None:
        self.known = known
        self.tables = words
        self.changes: list[Fact] = []
        self.refusals: list[Refusal] = []
        self.times: list[tuple[int, Said]] = []  # how many changes came before it
        self.day_is_told = True  # False once a day was refused: then an hour alone is not today's

    def segment(self, scanner: Scanner) -> None:
        """Read one segment to its end."""
        facts, known = len(self.changes) + len(self.refusals), self.known
        self._about(scanner)
        self._facts(scanner, facts)
        self.known = replace(self.known, coral=known.coral, others=known.others)

    def _about(self, scanner: Scanner) -> None:
        """Take the names of corals at the start: the facts after them are those corals'."""
        before, corals = scanner.place, self.known.names.get("coral", {})
        first = scanner.whole_name(corals)
        names = [corals[first]] if first else []
        names += self._more_corals(scanner, ()) if names and ALL not in names else []
        scanner.name((":",))
        after = scanner.place
        able = [row for row in self.tables.rows if row.of_coral and (row.into in OF_ALL or ALL not in names)]
        if names and scanner.name([word for row in able for word in row.words]):
            self.known = replace(self.known, coral=names[0], others=tuple(names[1:]))
            scanner.place = after
        else:
            scanner.place = before

    def _more_corals(self, scanner: Scanner, openings: Sequence[str]) -> list[str]:
        """The corals that follow one, each after a comma or 'and'. One before any of `openings` begins its own fact."""
        corals, found = self.known.names.get("coral", {}), list[str]()
        while True:
            before = scanner.place
            scanner.between(self.tables.between)
            name = scanner.whole_name(corals) if scanner.place > before else None
            after = scanner.place
            if name is None or corals[name] == ALL or scanner.name(openings):
                scanner.place = before
                return found
            scanner.place = after
            found.append(corals[name])

    def _facts(self, scanner: Scanner, facts: int) -> None:
        """Read facts and times to the end, or a note; `facts` counts those of the segments before."""
        while True:
            before = scanner.place
            scanner.between(self.tables.between)
            if scanner.at_end:
                return
            if scanner.place > before:
                self._about(scanner)
            if self._time(scanner):
                self._about(scanner)
                continue
            if self._fact(scanner):
                continue
            if refusal := unnamed(scanner.rest, self.tables, self.known):
                self.refusals.append(refusal)
                scanner.place += len(refusal.said)
                scanner.skip()
                continue
            if facts == len(self.changes) + len(self.refusals) and self._note(scanner):
                return
            self._unknown(scanner)

    def result(self) -> Understood:
        """All changes with their times, and all refusals."""
        if not self.changes and not self.refusals:
            self.refusals.append(Refusal("", "nothing is written here", "write for example 'alk 8.1, ca 425'"))
        if len(self.times) > 1 and self.times[0][0] > 0:
            wrong = "the line has several times, and its first fact none"
            self.refusals.append(Refusal(self.changes[0].said, wrong, "write each time before its facts"))
        self._kits()
        placed = [self._placed(index, change) for index, change in enumerate(self.changes)]
        return Understood(tuple(filter(None, placed)), tuple(self.refusals))

    def _kits(self) -> None:
        """Refuse two kits at one time: which of the readings is whose is not said."""
        of_kits = [(index, each) for index, each in enumerate(self.changes) if each.into == "kit"]
        kits = [(self._said(index), str(each.values["kit"])) for index, each in of_kits]
        for said, kit in kits:
            if any(at == said and other != kit for at, other in kits):
                self.refusals.append(Refusal(kit, "two kits read the water at one time", "write a line for each kit"))
                return

    def _said(self, index: int) -> Said | None:
        """The time that a change was said to be at."""
        before = [said for count, said in self.times if count <= index]
        return self.times[0][1] if len(self.times) == 1 else before[-1] if before else None

    def _placed(self, index: int, change: Fact) -> Fact | None:
        try:
            return replace(change, at=moment_meant(self._said(index), self.known.now, needs_clock=not change.coral))
        except NoSuchTime as error:
            refusal = Refusal(change.said, *error.args)
            if self.day_is_told and refusal.wrong not in [each.wrong for each in self.refusals]:
                self.refusals.append(refusal)
            return None

    def _time(self, scanner: Scanner) -> bool:
        before = scanner.place
        try:
            said = read_moment(scanner, self.tables, self.known.now, self.known.date_order)
        except NoSuchTime as error:
            self.refusals.append(Refusal(scanner.text[before : scanner.place], *error.args))
            self.day_is_told = False
            return True
        if said is not None:
            self.times.append((len(self.changes), said))
            scanner.name((":",))
        return said is not None

    def _fact(self, scanner: Scanner) -> bool:
        """Read one fact, or note why what begins here is none. False if no fact begins here."""
        start, failed = scanner.place, list[_Failed]()
        for outcome in self._candidates(scanner, start):
            if isinstance(outcome, tuple):
                self.changes += outcome
                if outcome[0].into == "solutions":
                    self._can_dose(str(outcome[0].values["solution"]))
                return True
            failed.append(outcome)
        if not failed:
            return False
        furthest = max(failed, key=lambda each: each.place)
        scanner.place = furthest.place
        scanner.take(_TO_THE_COMMA)
        dry = dry_dose(scanner.text[start : scanner.place], self.tables, self.known)
        self.refusals.append(dry or furthest.refusal)
        return True

    def _can_dose(self, solution: str) -> None:
        """Know a solution from here on."""
        solutions = {**self.known.names.get("solution", {}), folded_text(solution): solution}
        self.known = replace(self.known, names={**self.known.names, "solution": solutions})

    def _candidates(self, scanner: Scanner, start: int) -> Iterator[tuple[Fact, ...] | _Failed]:
        """What may begin here, the longest beginning first, each read from the start; of several corals a fact each."""
        begun: list[tuple[int, FactWords | str]] = []
        for row in self.tables.rows:
            scanner.place = start
            if (word := scanner.name(row.words)) and not _JOINED.match(scanner.text, start + len(word)):
                begun.append((scanner.place, row))
            elif row.bare:
                begun.append((start, row))
        scanner.place = start
        if name := scanner.name(self.tables.quantities):
            begun.append((scanner.place, name))
        scanner.place = start
        if level := Reader(scanner, self.tables, self.known).level_by_unit():
            yield (Fact("readings", {level.kind: level}, _UNSAID, scanner.text[start : scanner.place].strip()),)
        for place, what in sorted(begun, key=lambda each: -each[0]):
            scanner.place = place
            outcome = self._reading(scanner, start, what) if isinstance(what, str) else self._row(scanner, start, what)
            if outcome is not None:
                yield outcome
        scanner.place = start

    def _reading(self, scanner: Scanner, start: int, name: str) -> tuple[Fact] | _Failed:
        kind = self.tables.quantities[name]
        scanner.fillers((*self.tables.fillers, *self.tables.signs))
        if told := when_or_what(scanner, self.tables, self.known, name):
            return self._failed(scanner, start, *told)
        try:
            value = Reader(scanner, self.tables, self.known).level(kind, name)
        except NotAQuantity as error:
            return self._failed(scanner, start, error.wrong, error.remedy)
        if value is None:
            remedy = f"write for example {example_of(kind, self.known.units)}"
            return self._failed(scanner, start, f"'{name}' has no number", remedy)
        return (Fact("readings", {kind: value}, _UNSAID, scanner.text[start : scanner.place].strip()),)

    def _row(self, scanner: Scanner, start: int, row: FactWords) -> tuple[Fact, ...] | _Failed | None:
        bare = scanner.place == start
        if bare:  # nothing but the unit tells a dose from a pump's rate
            row = replace(row, slots=tuple(replace(slot, with_unit=True) for slot in row.slots))
        others = list[str]()
        try:
            values = self._slots(scanner, row, bare, others)
        except NotAQuantity as error:
            return None if bare else self._failed(scanner, start, error.wrong, error.remedy)
        if values is None:
            return None
        if row.of_coral and "coral" not in values and self.known.coral and any(s.name == "coral" for s in row.slots):
            values["coral"] = self.known.coral
            others += self.known.others
        no_all = values.get("coral") == ALL and row.into not in OF_ALL  # which is said before what else it lacks
        missing = [slot for slot in row.slots if slot.name not in values and not slot.may and not no_all]
        if missing:
            return None if bare else self._lacks(scanner, start, missing[0])
        if row.into == "placements" and not values.keys() - {"coral"} and scanner.rest.strip(" ,"):
            if values["coral"] == ALL and (beside := beside_all(scanner, start, self.tables)):
                return self._failed(scanner, start, *beside)
            return self._lacks(scanner, start, next(slot for slot in row.slots if slot.name == "place"))
        if others and (row.into not in OF_SEVERAL or "spot" in values):
            wrong = "only an end, what is seen of its health, or a move without a spot can be said of several corals"
            return self._failed(scanner, start, wrong, "write a line for each coral")
        every = dict.fromkeys([str(values["coral"]), *others]) if others else None
        try:
            made = [finished(row, {**values, "coral": id}, self.known) for id in every or ()]
            made = made or [finished(row, values, self.known)]
        except CannotMean as error:
            return self._failed(scanner, start, *error.args)
        said = scanner.text[start : scanner.place].strip()
        corals = [str(each.pop("coral")) if row.of_coral else "" for each in made]
        return tuple(Fact(row.into, each, _UNSAID, said, id) for id, each in zip(corals, made, strict=True))

    def _slots(self, scanner: Scanner, row: FactWords, bare: bool, others: list[str]) -> dict[str, Value] | None:
        """The parts that follow, in any order; None if a fact that must begin with one of them does not.

        The second coral and all after it are put into `others`.
        """
        reader, left = Reader(scanner, self.tables, self.known), list(row.slots)
        found: dict[str, Value] = {}
        while left:
            before = scanner.place
            taken = self._next(reader, left, False)
            if taken is None and not bare and scanner.name(self.tables.between):
                taken = self._next(reader, left, True)
            if taken is None:
                scanner.place = before
                break
            slot, found[taken[0].name] = taken
            left.remove(slot)
            if slot.name == "coral" and row.into in OF_SEVERAL and found["coral"] != ALL:
                others += self._more_corals(scanner, self.tables.openings_of_corals())
        return None if bare and not found else found

    def _next(self, reader: Reader, left: list[Slot], after_comma: bool) -> tuple[Slot, Value] | None:
        for slot in sorted(left, key=lambda slot: not slot.after):
            value = reader.read(slot, after_comma)
            if value is not None:
                return slot, value
        return None

    def _lacks(self, scanner: Scanner, start: int, slot: Slot) -> _Failed:
        said = scanner.text[start : scanner.place].strip()
        return self._failed(scanner, start, *lacks(scanner, said, slot, self.tables, self.known))

    def _failed(self, scanner: Scanner, start: int, wrong: str, remedy: str) -> _Failed:
        return _Failed(scanner.place, Refusal(scanner.text[start : scanner.place].strip(), wrong, remedy))

    def _note(self, scanner: Scanner) -> bool:
        """Take what is left as a note, if it has no number and begins like no fact."""
        words = scanner.rest.strip()
        first = re.match(r"\w+", folded_text(words))
        known = [self.known.names.get(kind, {}) for kind in ("solution", "mix", "kit", "coral")]
        names = {name for each in known for name, id in each.items() if id != ALL}
        near = first is not None and (nearly(first[0], self.tables.openings()) or Scanner(words).name(names))
        if near or re.search(r"\d", words) or not re.search(r"\w", words):
            return False
        self.changes.append(Fact("note", {"note": words}, _UNSAID, words))
        scanner.place = len(scanner.text)
        return True

    def _unknown(self, scanner: Scanner) -> None:
        start = scanner.place
        part = scanner.take(_TO_THE_COMMA)
        said = part[0].strip() if part else scanner.rest
        if not said:
            said, scanner.place = scanner.rest[:1], start + 1
            scanner.skip()
        is_beside = scanner.text[:start].rstrip().endswith(",")
        before = self.changes[-1] if self.changes else None
        self.refusals.append(not_understood(said, before, is_beside, self.tables, self.known))
        if before is not None and before.into == "new" and not is_beside:
            scanner.place = len(scanner.text)  # what follows is still of the new coral
