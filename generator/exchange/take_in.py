"""The files of a coral that comes, from a partner's record or from its plan. None overwrites one of ours."""

import json
import re
import unicodedata
from collections.abc import Iterator
from datetime import date

from msgspec import Struct, field

from generator.exchange.document import CoralRecord, Document, identity_of
from generator.records.coral import Coral
from generator.records.journal import Journal
from generator.units.quantity import Quantity

# Names that Windows reserves for devices; no file can have them there.
_DEVICES = re.compile(r"(con|prn|aux|nul|com[0-9]|lpt[0-9])")


class How(Struct, frozen=True):
    """What we know of the arrival that is not in the record. Only the day is required."""

    at: date
    partner: str | None = None
    trade: str | None = None
    system: str | None = None


class NewFile(Struct, frozen=True):
    """A file to write, by its path in the journal."""

    path: str
    content: bytes


class TakenIn(Struct, frozen=True):
    """What taking in changes: `files` to write, ids of the corals `made`, and of those that are `here` already."""

    files: tuple[NewFile, ...]
    made: tuple[str, ...]
    here: tuple[str, ...]


def take_in(document: Document, raw: bytes, journal: Journal, how: How) -> TakenIn:
    """The files that a record of origin becomes: a draft for each coral, and the record itself, unchanged.

    A coral that was already taken in from the same record stays as it is, so doing it twice changes nothing.
    Ids, names and lines that clash with ours get a number.
    """
    ours = _Ours.of(journal)
    file = f"received/{document.digest.removeprefix('sha256:')[:32]}.json"
    files: list[NewFile] = []
    made, here = [], []
    for about in document.last.about:
        known = ours.held(document.records[about])
        if known is not None:
            here.append(known)
            continue
        chain = document.chain(about)
        id = ours.free_id(chain[0].name)
        text = _draft(chain, file, ours, how)
        ours.made[chain[0].identity] = id
        files.append(NewFile(f"corals/{id}.yaml", text.encode("utf-8")))
        made.append(id)
    if made and file not in journal.received:
        files.insert(0, NewFile(file, raw))
    return TakenIn(tuple(files), tuple(made), tuple(here))


class _Ours(Struct):
    """Our journal's ids and names in use, and the identity of each of our corals."""

    ids: set[str]
    names: set[str]
    by_record: dict[str, str]
    by_identity: dict[str, Coral]
    lines: dict[str, set[str]]
    made: dict[str, str] = field(default_factory=dict)

    @classmethod
    def of(cls, journal: Journal) -> "_Ours":
        corals = journal.corals
        keeper = journal.settings.keeper
        by_identity: dict[str, Coral] = {}
        lines: dict[str, set[str]] = {}
        # An animal that left and came back has two files. The later one counts.
        for coral in sorted(corals.values(), key=lambda coral: (coral.arrival.at, coral.id)):
            identity = identity_of(coral, keeper)
            by_identity[identity] = coral
            ancestors = coral.provenance.ancestors if coral.provenance else ()
            lines.setdefault(coral.line, set()).update({identity, *(each.identity for each in ancestors)})
        return cls(
            ids=set(corals),
            names={coral.name.casefold() for coral in corals.values()},
            by_record={coral.provenance.record: coral.id for coral in corals.values() if coral.provenance},
            by_identity=by_identity,
            lines=lines,
        )

    def held(self, record: CoralRecord) -> str | None:
        """Our coral that came with this record or was just made from it, or that is this animal and lives here."""
        same = self.by_identity.get(record.identity)
        living = same.id if same is not None and same.end is None else None
        return self.by_record.get(record.digest) or self.made.get(record.identity) or living

    def free_id(self, name: str) -> str:
        """A free id made from a name; it is then in use."""
        plain = unicodedata.normalize("NFKD", name).encode("ascii", "ignore").decode("ascii").lower()
        stem = re.sub(r"[^a-z0-9]+", "-", plain).strip("-")[:56].strip("-") or "coral"
        stem = f"{stem}-coral" if _DEVICES.fullmatch(stem) else stem
        id = next(each for each in _numbered(stem, "-") if each not in self.ids)
        self.ids.add(id)
        return id

    def free_name(self, name: str) -> str:
        """A name that none of our corals has, so that a reader can tell the two apart."""
        free = next(each for each in _numbered(name, " ") if each.casefold() not in self.names)
        self.names.add(free.casefold())
        return free

    def line_of(self, chain: tuple[CoralRecord, ...]) -> str:
        """The line of a chain: our id if we have a coral of it, otherwise theirs, numbered if it is in use."""
        animals = {record.identity for record in chain}
        ours = next((line for line, held in self.lines.items() if held & animals), None)
        line = ours or next(each for each in _numbered(chain[0].line[:56].strip("-"), "-") if each not in self.lines)
        self.lines.setdefault(line, set()).update(animals)
        return line


def _numbered(text: str, joint: str) -> Iterator[str]:
    yield text
    number = 2
    while True:
        yield f"{text}{joint}{number}"
        number += 1


def _draft(chain: tuple[CoralRecord, ...], file: str, ours: _Ours, how: How) -> str:
    """The text of a draft coral file. Every text of a stranger is a quoted scalar in it."""
    record = chain[0]
    ancestors = _ancestors(chain)
    lines = [
        f"# Taken in from a record of origin by {_quoted(record.keeper)}: check it and add what you know.",
        f"name: {_quoted(ours.free_name(record.name))}",
        f"species: {_quoted(record.species)}",
        f"line: {_quoted(ours.line_of(chain))}",
        f"form: {record.form}",
    ]
    nearest = ours.by_identity.get(ancestors[0].identity) if ancestors else None
    if nearest is not None:
        lines.append(f"parent: {_quoted(nearest.id)}")
    lines += ["arrival:", f"  at: {how.at}", "  how: trade" if how.partner or how.trade else "  how: unknown"]
    lines += [f"  {name}: {_quoted(value)}" for name in ("partner", "trade") if (value := getattr(how, name))]
    lines += _origin(chain)
    lines += ["provenance:", f"  file: {file}", f"  record: {record.digest}", f"  identity: {record.identity}"]
    lines += ["  ancestors:"] if ancestors else []
    for ancestor in ancestors:
        lines += [f"    - identity: {ancestor.identity}", f"      name: {_quoted(ancestor.name)}"]
        lines.append(f"      keeper: {_quoted(ancestor.keeper)}")
        held = ours.by_identity.get(ancestor.identity)
        if held is not None:
            lines.append(f"      here: {_quoted(held.id)}")
    if how.system:
        lines += ["placements:", f"  - since: {how.at}", f"    system: {_quoted(how.system)}"]
    return "\n".join(lines) + "\n"


def _ancestors(chain: tuple[CoralRecord, ...]) -> list[CoralRecord]:
    """The ancestors, each once, the nearest first, as described by the keeper who had it last."""
    seen = {chain[0].identity}
    found = []
    for record in chain:
        if record.identity not in seen:
            seen.add(record.identity)
            found.append(record)
    return found


def _origin(chain: tuple[CoralRecord, ...]) -> list[str]:
    """Where the line came from, by the keeper who recorded it, and the permit of this animal itself.

    A source code or a permit of its parent is not the animal's own; none is inferred.
    """
    own = tuple(record for record in chain if record.identity == chain[0].identity)
    told = [(name, _first(chain, name)) for name in ("region", "year")]
    told += [(name, _first(own, name)) for name in ("permit", "source_code", "appendix")]
    found = [f"  {name}: {_quoted(str(value))}" for name, value in told if value is not None]
    return ["origin:", *found] if found else []


def _first(chain: tuple[CoralRecord, ...], name: str) -> str | int | None:
    value: str | int | None = next((v for record in chain if (v := getattr(record, name)) is not None), None)
    return value


def _quoted(text: str) -> str:
    # A JSON string is a double-quoted YAML scalar; what would differ, `read_document` has refused to take in.
    return json.dumps(text, ensure_ascii=False)


def coral_file(coral: Coral) -> str:
    """The text of the file of a coral that has just arrived, with all that its record holds."""
    return "\n".join(_lines_of_file(coral)) + "\n"


def _lines_of_file(coral: Coral) -> Iterator[str]:
    yield f"name: {_quoted(coral.name)}"
    yield f"species: {_quoted(coral.species)}"
    yield f"line: {coral.line}"
    yield f"form: {coral.form}"
    arrival = coral.arrival
    yield f"arrival: {_mapping(at=str(arrival.at), how=arrival.how, partner=arrival.partner, trade=arrival.trade)}"
    if (origin := coral.origin) is not None:
        told = {"region": origin.region, "permit": origin.permit}
        texts = {key: _quoted(text) for key, text in told.items() if text}
        year = str(origin.year) if origin.year is not None else None
        yield f"origin: {_mapping(**texts, year=year, source_code=origin.source_code, appendix=origin.appendix)}"
    rows = {
        "placements": [
            _mapping(since=str(each.since), system=each.system, place=each.place, x=_q(each.x), y=_q(each.y))
            for each in coral.placements
        ],
        "sizes": [
            _mapping(at=str(each.at), length=_q(each.length), width=_q(each.width), height=_q(each.height))
            for each in coral.sizes
        ],
        "weighings": [
            _mapping(at=str(each.at), mass=_q(each.mass), resolution=_q(each.resolution)) for each in coral.weighings
        ],
    }
    for what, told_of in rows.items():
        if told_of:
            yield f"{what}:"
            yield from (f"  - {row}" for row in told_of)


def _mapping(**parts: str | None) -> str:
    return "{" + ", ".join(f"{key}: {value}" for key, value in parts.items() if value is not None) + "}"


def _q(quantity: Quantity | None) -> str | None:
    return str(quantity) if quantity is not None else None
