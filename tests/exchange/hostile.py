"""Records nobody should take in: each a name, its bytes, and the kind of refusal it must bring.

Made from a sound record of a cutting and its mother. Where a forger would mend the digests, they are
mended, so that the refusal is for what is hostile and not for a digest by the way.
"""

import copy
import gzip
import json
from collections.abc import Iterator
from contextlib import suppress
from typing import NamedTuple

from tests.exchange.reseal import Json, at, changed, raw, relisted, sealed, without


class Hostile(NamedTuple):
    name: str
    raw: bytes
    kind: str


def hostile(sound: Json) -> list[Hostile]:
    """Every hostile record there is."""
    return [*_bytes(sound), *_shapes(sound), *_texts(sound), *_chains(sound)]


def _bytes(sound: Json) -> Iterator[Hostile]:
    text = raw(sound).decode()
    yield Hostile("nothing at all", b"", "not-json")
    yield Hostile("only spaces", b" " * 1000, "not-json")
    yield Hostile("a picture", b"\x89PNG\r\n\x1a\n" + bytes(range(256)), "encoding")
    yield Hostile("an old encoding", text.replace("Moluccas", "Molucças").encode("latin-1"), "encoding")
    yield Hostile("UTF-16", text.encode("utf-16"), "encoding")
    yield Hostile("a byte-order mark", b"\xef\xbb\xbf" + raw(sound), "encoding")
    yield Hostile("overlong UTF-8", text.encode().replace(b"Moluccas", b"Molu\xc0\xafccas"), "encoding")
    yield Hostile("cut off", raw(sound)[:-40], "not-json")
    yield Hostile("something after its end", raw(sound) + b"{}", "not-json")
    yield Hostile("a comment", b"/* hello */" + raw(sound), "not-json")
    yield Hostile("a page of the web", b"<!doctype html><script>alert(1)</script>", "not-json")
    yield Hostile("YAML with an object in it", b"!!python/object/apply:os.system ['true']", "not-json")
    yield Hostile("a YAML bomb", b"a: &a [x,x]\nb: &b [*a,*a]\n" + b"c: [*b,*b]\n" * 9, "not-json")
    yield Hostile("ten megabytes of spaces", raw(sound) + b" " * 10_000_000, "too-large")
    yield Hostile("ten megabytes of name", changed_text(text, "Tide Lantern", "x" * 10_000_000), "too-large")
    yield Hostile("lists in lists without end", b"[" * 900_000, "too-deep")
    yield Hostile("objects in objects without end", b'{"a":' * 180_000, "too-deep")
    yield Hostile("lists in lists, closed again", b"[" * 50_000 + b"]" * 50_000, "too-deep")
    yield Hostile(
        "a deep context",
        text.replace('"@context":{', '"@context":{"x":' + "[" * 40 + "]" * 40 + ",").encode(),
        "too-deep",
    )
    yield Hostile("half a million noughts", b"[" + b"0," * 400_000 + b"0]", "too-many")
    yield Hostile("half a million empty objects", b"[" + b"{}," * 250_000 + b"{}]", "too-many")
    yield Hostile("quotes that never end", b'"' + b'\\"' * 480_000, "not-json")
    yield Hostile("a backslash at the end", b'{"a":"' + b"\\" * 101, "not-json")
    yield Hostile("a name given twice", text.replace('"version":1', '"version":1,"version":1').encode(), "twice")
    yield Hostile(
        "a name given twice by an escape",
        text.replace('"version":1', '"version":1,"v\\u0065rsion":1').encode(),
        "twice",
    )
    yield Hostile(
        "a name given twice deep inside", text.replace('"year":2018', '"year":2018,"year":1901').encode(), "twice"
    )
    for number in ("NaN", "Infinity", "-Infinity", "1e400", "2018.0", "2018e0"):
        yield Hostile(f"the year {number}", text.replace('"year":2018', f'"year":{number}').encode(), "number")
    yield Hostile(
        "a number of ten thousand digits", text.replace('"year":2018', '"year":' + "9" * 10_000).encode(), "number"
    )
    for number in ("+2018", "02018", "2_018", "0x7e2", "٢٠١٨"):
        yield Hostile(f"the year {number}", text.replace('"year":2018', f'"year":{number}').encode(), "not-json")
    yield Hostile("packed", gzip.compress(raw(sound)), "encoding")
    yield Hostile("a nought byte after its end", raw(sound) + b"\x00", "not-json")
    yield Hostile(
        "a space that JSON does not know", text.replace('"version":', '"version":\u00a0').encode(), "not-json"
    )
    yield Hostile("quotes of another language", text.replace('"version"', "'version'").encode(), "not-json")
    yield Hostile("a number no double can hold", text.replace('"year":2018', f'"year":{2**53}').encode(), "number")


def changed_text(text: str, old: str, new: str) -> bytes:
    assert old in text
    return text.replace(old, new).encode()


def _shapes(sound: Json) -> Iterator[Hostile]:
    coral = len(sound["records"]) - 1

    def of_coral(name: str, value: Json) -> bytes:
        return raw(
            sealed(changed({**sound, "records": copy.deepcopy(sound["records"])}, ("records", coral, name), value))
        )

    yield Hostile("a list", b"[]", "shape")
    yield Hostile("a number", b"1", "shape")
    yield Hostile("nothing in it", b"{}", "context")
    yield Hostile("a context to fetch", raw(sealed({**sound, "@context": "https://example.org/context"})), "context")
    yield Hostile("two contexts", raw(sealed({**sound, "@context": [sound["@context"], {}]})), "context")
    context = {**sound["@context"], "parent": "prov:wasAttributedTo"}
    yield Hostile("a context that turns a word round", raw(sealed({**sound, "@context": context})), "context")
    yield Hostile("no context", raw(sealed(without(sound, ("@context",)))), "context")
    yield Hostile("a context inside a coral", of_coral("@context", {"name": "x:y"}), "shape")
    yield Hostile("another kind of document", raw(sealed({**sound, "type": "Person"})), "shape")
    yield Hostile("a later version", raw(sealed({**sound, "version": 2})), "shape")
    yield Hostile("version true", raw(sealed({**sound, "version": True})), "shape")
    yield Hostile("an unknown part", raw(sealed({**sound, "onload": "alert(1)"})), "shape")
    yield Hostile("a prototype", raw(sealed({**sound, "__proto__": {"x": 1}})), "shape")
    yield Hostile("no corals", raw(sealed({**sound, "records": []})), "shape")
    yield Hostile("no handover", raw(sealed({**sound, "handovers": []})), "shape")
    yield Hostile("corals by name", raw(sealed({**sound, "records": {"0": sound["records"][0]}})), "shape")
    yield Hostile("a coral that is text", raw(sealed({**sound, "records": ["x"]})), "shape")
    yield Hostile("a thousand corals", raw(sealed({**sound, "records": sound["records"][-1:] * 1000})), "shape")
    yield Hostile("a year as text", of_coral("year", "2018"), "shape")
    yield Hostile("the year true", of_coral("year", True), "shape")
    yield Hostile("a year before the trade", of_coral("year", -1), "shape")
    yield Hostile("a name that is a list", of_coral("organismName", ["a"]), "shape")
    yield Hostile("an empty name", of_coral("organismName", ""), "shape")
    yield Hostile("a long name", of_coral("organismName", "x" * 121), "shape")
    yield Hostile("a day that is none", raw(sealed(relisted(_with(sound, coral, "date", "2020-02-30")))), "date")
    yield Hostile("a day as a number", of_coral("date", 20200201), "shape")
    yield Hostile("a day with a line end", of_coral("date", "2020-02-01\n"), "unseen-character")
    yield Hostile("no such source code", of_coral("citesSourceCode", "Z"), "shape")
    yield Hostile("no such Appendix", of_coral("citesAppendix", "IV"), "shape")
    yield Hostile("a species that is markup", of_coral("scientificName", "Acropora <i>sp</i>"), "shape")
    yield Hostile("a line that is a path", of_coral("line", "../../etc/passwd"), "shape")
    yield Hostile("a line that begins with a slash", of_coral("line", "/etc/passwd"), "shape")
    yield Hostile("a line with a line end", of_coral("line", "tide-lantern\n"), "unseen-character")
    yield Hostile("a line in look-alike letters", of_coral("line", "tide-lаntern"), "shape")
    yield Hostile("an identity that is a path", of_coral("id", "../corals/ember"), "shape")
    yield Hostile("an identity that is a web page", of_coral("id", "https://example.org/x"), "shape")
    yield Hostile("an identity in capitals", of_coral("id", sound["records"][coral]["id"].upper()), "shape")
    yield Hostile("a digest that is short", raw({**sound, "digest": "sha256:00"}), "shape")
    yield Hostile("a digest of another kind", raw({**sound, "digest": "md5:" + "0" * 32}), "shape")
    yield Hostile(
        "a photo from the web",
        of_coral("photos", [{"digest": "https://example.org/x.png", "description": "x"}]),
        "shape",
    )
    yield Hostile("two hundred photos", of_coral("photos", sound["records"][coral]["photos"] * 200), "shape")
    yield Hostile(
        "a signature that is none", raw(sealed(changed(sound, ("handovers", 0, "signature"), "yes"))), "shape"
    )
    armour = "-----BEGIN SSH SIGNATURE-----\n" + "A" * 5000 + "\n-----END SSH SIGNATURE-----\n"
    yield Hostile("an endless signature", raw(sealed(changed(sound, ("handovers", 0, "signature"), armour))), "shape")


def _with(sound: Json, index: int, name: str, value: Json) -> Json:
    return changed(sound, ("records", index, name), value)


def _texts(sound: Json) -> Iterator[Hostile]:
    coral = len(sound["records"]) - 1

    def named(name: str) -> bytes:
        # json.dumps, since a lone surrogate has no canonical form at all.
        made = _with(sound, coral, "organismName", name)
        with suppress(ValueError):
            made = relisted(made)
        return json.dumps(made).encode()

    yield Hostile("a script for a name", named("<script>alert(1)</script>"), "shape")
    yield Hostile("an image for a name", named("x<img src=x onerror=alert(1)>"), "shape")
    yield Hostile("a template for a name", named("{{ config }}"), "shape")
    yield Hostile("a formula for a name", named('=HYPERLINK("https://example.org")'), "shape")
    yield Hostile("a formula that begins with an at sign", named("@SUM(A1)"), "shape")
    yield Hostile("a path with backslashes for a name", named("..\\..\\windows"), "shape")
    yield Hostile("a name of one space", named(" "), "shape")
    yield Hostile("a bell in a name", named("Tide\x07Lantern"), "unseen-character")
    yield Hostile("a nought byte in a name", named("Tide\x00Lantern"), "unseen-character")
    yield Hostile("a line end in a name", named("Tide\nline: stolen"), "unseen-character")
    yield Hostile("a terminal's escape in a name", named("Tide\x1b[2JLantern"), "unseen-character")
    yield Hostile("a line separator in a name", named("Tide\u2028Lantern"), "unseen-character")
    yield Hostile("a next-line mark in a name", named("Tide\u0085Lantern"), "unseen-character")
    yield Hostile("a name turned round", named("Tide \u202enretnaL"), "unseen-character")
    yield Hostile("an isolate in a name", named("Tide\u2066Lantern"), "unseen-character")
    yield Hostile("a joiner of no width in a name", named("Tide\u200dLantern"), "unseen-character")
    yield Hostile("a space of no width in a name", named("Tide\u200bLantern"), "unseen-character")
    yield Hostile("a space that is none in a name", named("Tide\u00a0Lantern"), "unseen-character")
    yield Hostile("a letter of nobody's in a name", named("Tide\ue000Lantern"), "unseen-character")
    yield Hostile("half a letter in a name", named("Tide\ud800Lantern"), "unseen-character")
    yield Hostile("a tag from beyond in a name", named("Tide\U000e0041Lantern"), "unseen-character")
    yield Hostile("a Cyrillic letter in a Latin name", named("Tide L\u0430ntern"), "look-alike")
    yield Hostile("a Greek letter in a Latin name", named("Tide Lantern\u03bf"), "look-alike")
    yield Hostile("wide letters", named("Ｔide Lantern"), "look-alike")
    yield Hostile("letters of mathematics", named("\U0001d413ide Lantern"), "look-alike")
    yield Hostile("a ligature", named("Tide \ufb01n"), "look-alike")
    yield Hostile("letters in pieces", named("Tide\u0301 Lantern"), "look-alike")
    yield Hostile("a pile of marks", named("Tide" + "\u0335" * 40), "look-alike")
    for code in (0x034F, 0x115F, 0x1160, 0x17B4, 0x180B, 0x2800, 0xFE0F, 0xE0100):
        yield Hostile(
            f"U+{code:04X}, which draws nothing, in a name", named(f"Tide{chr(code)}Lantern"), "unseen-character"
        )
    yield Hostile("a filler that looks like nothing", named("\u3164"), "unseen-character")
    yield Hostile("a mark on nothing", named("\u0323Tide Lantern"), "look-alike")
    yield Hostile("a mark on a space", named("Tide \u0323Lantern"), "look-alike")
    permit = _with(sound, coral, "permit", "\uff1d1+1")
    yield Hostile("a formula in wide letters", raw(relisted(permit)), "look-alike")
    keeper = changed(sound, ("handovers", 0, "from", "name"), "in\u0435s")
    yield Hostile("a look-alike keeper", raw(sealed(keeper)), "look-alike")


def _chains(sound: Json) -> Iterator[Hostile]:
    cutting, mother = sound["records"]
    yield Hostile("a wrong digest", raw({**sound, "digest": "sha256:" + "0" * 64}), "digest")
    yield Hostile("a name changed", raw(_with(sound, 1, "organismName", "Ember")), "digest")
    yield Hostile("a name changed, its digest mended", raw(sealed(_with(sound, 1, "organismName", "Ember"))), "listed")
    yield Hostile(
        "the mother left out",
        raw(relisted(without(without(sound, ("records", 1)), ("handovers", 0, "listed", 1)))),
        "truncated",
    )
    yield Hostile("the same record twice", raw(sealed({**sound, "records": [cutting, mother, mother]})), "twice")
    other = {**mother, "id": "urn:uuid:00000000-0000-0000-0000-000000000000"}
    yield Hostile("a mother who is another", raw(relisted({**sound, "records": [cutting, other]})), "parent")
    own = changed(sound, ("records", 1, "parent"), copy.deepcopy(cutting["parent"]))
    yield Hostile(
        "a mother who is missing",
        raw(relisted(changed(own, ("records", 1, "parent", "record"), "sha256:" + "1" * 64))),
        "truncated",
    )
    both = _with(sound, 0, "previous", cutting["parent"]["record"])
    yield Hostile("a parent and an earlier record", raw(sealed(both)), "shape")
    yield Hostile(
        "an earlier record of another coral",
        raw(relisted(_with(without(sound, ("records", 0, "parent")), 0, "previous", cutting["parent"]["record"]))),
        "parent",
    )
    yield Hostile("a cutting that says it was bought", raw(relisted(_with(sound, 0, "how", "bought"))), "shape")
    yield Hostile("its own ancestor", raw(_circle(sound)), "cycle")
    yield Hostile(
        "about a stranger", raw(sealed(changed(sound, ("handovers", 0, "about"), ["sha256:" + "2" * 64]))), "about"
    )
    yield Hostile("one record too many", raw(_left_over(sound)), "left-over")
    yield Hostile(
        "told by one who never had it",
        raw(relisted(changed(sound, ("records", 1, "keeper", "name"), "nemo"))),
        "keeper",
    )
    yield Hostile(
        "a handover before that is not there",
        raw(sealed(changed(sound, ("handovers", 0, "earlier"), ["sha256:" + "3" * 64]))),
        "handovers",
    )
    yield Hostile("a mother who came after her cutting", raw(relisted(_with(sound, 1, "date", "2199-01-01"))), "days")
    gone = raw(sealed(changed(sound, ("handovers", 0, "date"), "2020-06-01")))
    yield Hostile("handed over before it was cut", gone, "days")
    many = {**sound, "handovers": sound["handovers"] * 101}
    yield Hostile("a hundred and one handovers", raw(sealed(many)), "shape")
    twice = {**sound, "handovers": [sound["handovers"][0], sound["handovers"][0]]}
    yield Hostile("the same handover twice", raw(sealed(twice)), "handovers")


def _circle(sound: Json) -> Json:
    """The mother's mother is an earlier record of the cutting itself."""
    from generator.exchange.document import digest

    cutting, mother = copy.deepcopy(sound["records"])
    earlier = {**cutting, "parent": {"id": mother["id"], "record": ""}}
    first = {**mother, "organismName": "First"}
    earlier["parent"]["record"] = digest(first)
    second = {**mother, "parent": {"id": earlier["id"], "record": digest(earlier)}}
    cutting["parent"]["record"] = digest(second)
    return _listing(sound, [cutting, second, earlier, first])


def _left_over(sound: Json) -> Json:
    cutting, mother = copy.deepcopy(sound["records"])
    stranger = {**at(sound, ("records", 1)), "id": "urn:uuid:00000000-0000-0000-0000-000000000000"}
    return _listing(sound, [cutting, mother, stranger])


def _listing(sound: Json, records: list[Json]) -> Json:
    from generator.exchange.document import digest

    handover = {**sound["handovers"][0], "about": [digest(records[0])], "listed": [digest(each) for each in records]}
    return sealed({**sound, "records": records, "handovers": [handover]})
