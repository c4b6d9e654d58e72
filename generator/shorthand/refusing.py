"""What is said of a part of a line that means nothing here: why, and what to write instead."""

import re
from collections.abc import Mapping
from datetime import timedelta
from difflib import get_close_matches

from generator.shorthand.finish import ALL, OF_SEVERAL, Fact, Refusal, Terms, id_of
from generator.shorthand.moments import VAGUE, stands_before_moment
from generator.shorthand.scanner import Scanner, Slot, Tables, folded_text, nearly
from generator.shorthand.slots import TURNS
from generator.units.kinds import KINDS
from generator.units.quantity import level_in, parse_quantity

# A name and an amount or a rate: some solution that this system does not have.
_POURED = re.compile(
    r"([^\W\d][\w-]*) +\d+(?:[.,]\d+)? *(?:ml|l|gal|fl oz|tbsp|tsp|cups?)(?:/(?:d|day|h|min))?", re.IGNORECASE
)
# A mass that was given: of a solution a volume is.
_DRY = re.compile(
    r"(?:(?:dosed?|add(?:ed)?|gave|give)\s+)?"
    r"(?:(\d+(?:[.,]\d+)?) *(?:g|grams?)\s+(?:of\s+)?([^,;]+?)|([^,;]+?)\s+(\d+(?:[.,]\d+)?) *(?:g|grams?))",
    re.IGNORECASE,
)
# Grams in a litre of a powder in an example of a solution; a choice of ours. Lime hardly dissolves any further
# (lime-solubility-at-20c).
_AS_DISSOLVED = {"Ca(OH)2": 1.5}
_USUALLY_DISSOLVED = 20.0
# Who gave or got it: some partner that this journal does not have.
_PARTNER = re.compile(r"(?:from|to) ([^\W\d][^\d,;:]*)", re.IGNORECASE)
# What was poured in when water was changed: some mix that this system does not have.
_MIX = re.compile(r"[^\W\d][\w -]*")
# What a level was read with: some kit that this system does not have.
_KIT = re.compile(r"(?:(?:with|using|by) +)?(?:(?:the|my) +)?([^\W\d][\w -]*?) +(?:test +)?kit", re.IGNORECASE)
# Water that ran out; what replaced it is not said.
_RAN_OUT = re.compile(
    r"(?:lost|spill(?:ed)?|spilt|leak(?:ed)?|drained)\b\D{0,20}?(\d+(?:[.,]\d+)?)\s*(%|l|litres?|liters?|gal(?:lons?)?)(?!\w)",
    re.IGNORECASE,
)
# What can only be said of a coral that is named: the end of a note that means one of those here.
_HOW_IT_IS = ("end", "health")
_STARTS_OR_STOPS = re.compile(
    r"\b(?:on|off|stop(?:ped)?|(?:re)?started|resumed|paused|aus|(?:ab|an|aus|ein)geschaltet|gestoppt|an$)\b"
)
# Pumps that dose, or may: no others have a solution. 'The return pumps' are not meant.
_PUMPS = re.compile(
    r"(?:^|\b(?:all|both|the|my|on|off|stopped|(?:re)?started|resumed|paused|alle|beide|die) )"
    r"(?:pumps|dosers|dosing(?: pumps)?|pumpen|dosierpumpen|dosierung)\b"
)
_COMMA = re.compile(r"(?<!\d),|,(?!\d)")
# A number that a full stop and a time follow, as written in German: 8.11 at 21:00, or the eighth of November.
_DAY_OR_NUMBER = re.compile(
    r"(?:0?[1-9]|[12]\d|3[01])\. ?(?:0?[1-9]|1[0-2])\. ?"
    r"(?:(?:um +)?\d{1,2}(?:[:.]\d{2})?(?: *uhr\b|(?<=:\d\d)|h\d{2})|\d{4}\b)",
    re.IGNORECASE,
)
_NUMBER_AND_STOP = re.compile(r"\d+\.\d+\.(?!\d)")
_A_DAY = re.compile(r"(?:per day|a day|daily|each day|every day)(?!\w)", re.IGNORECASE)
_NAME = re.compile(r"[^\s,;:]+")
_HOMES = {"solution": "solutions", "mix": "mixes", "kit": "kits", "place": "places"}
_EXAMPLES = {
    "count": "2",
    "size": "24 x 21 x 13 cm",
    "file": "lantern.jpg",
    "word": "soda",
    "species": "Acropora millepora",
    "new-name": '"Tide Lantern 5"',
    "volume-or-share": "40 L or 10 %",
    "rest": "a few words",
}


def none_of(kind: str, name: str, names: Mapping[str, str]) -> tuple[str, str]:
    """What is wrong with a name of a kind that is none of `names`, by what they may be called, and what to do."""
    known = ", ".join(sorted(set(names.values())))
    if kind in ("solution", "kit", "mix") and known:
        remedy = f"write one of {known}"
        if kind != "solution":
            remedy += f", or describe it under {_HOMES[kind]} in the system's file first"
    elif kind == "solution":
        remedy = (
            f"say first what is in it, with your own compound and strength: 'solution {name} Na2CO3 60 g/L', "
            f"or as its label does: 'solution {name} raises 1 dKH in 100 L per 10 mL'"
        )
    elif kind in _HOMES:
        remedy = f"describe it under {_HOMES[kind]} in the system's file first"
    else:
        file = f"partners/{id_of(name)}.yaml with a line 'name: {name}'" if kind == "partner" else "its file"
        remedy = f"make {file} first"
    return f"there is no {kind} '{name}'", remedy


def _water_lost(said: re.Match[str]) -> tuple[str, str]:
    """What is not said of water that ran out, and how to say it."""
    amount = f"{said[1]} {said[2].upper() if said[2].lower() == 'l' else said[2]}"
    remedy = (
        f"if new salt water did, it is a water change: 'wc {amount}'; if fresh water did, write a note and test again"
    )
    return f"what replaced the {amount} is not said", remedy


def lacks(scanner: Scanner, said: str, slot: Slot, tables: Tables, known: Terms) -> tuple[str, str]:
    """Why a fact begun with `said` is not whole: one of its parts is not there, or is no name that is known."""
    if slot.kind == "coral" and (ran_out := _RAN_OUT.match(f"{said} {scanner.rest}")):
        return _water_lost(ran_out)
    names: Mapping[str, str] = known.names.get(slot.kind, tables.choices.get(slot.kind, {}))
    place = scanner.place
    scanner.fillers(tables.fillers)
    word = scanner.word()
    scanner.place = place
    what = f"kind of {slot.kind}" if slot.name == "what" else slot.name.replace("_", " ")
    if names:
        as_note = "; if it is a note, write 'note:' before it" if slot.kind in ("coral", "health") else ""
        known_ids = sorted(set(names.values()) - {ALL})
        listed = f"write one of {', '.join(known_ids if slot.kind in tables.choices else known_ids[:8])}{as_note}"
        if not word:
            return f"'{said}' has no {what}", listed
        close = get_close_matches(folded_text(word), names, n=1)
        return f"there is no {what} '{word}'", f"did you mean {names[close[0]]}?" if close else listed
    if slot.kind in known.names:
        return none_of(slot.kind, word or what, {})
    example = "40 mL" if slot.with_unit else example_of(slot.kind, known.units) or _EXAMPLES.get(slot.kind, what)
    return f"'{said}' has no {what}", f"write for example {example}"


def example_of(kind: str, units: Mapping[str, str]) -> str:
    """An example of a quantity, a size or an amount of water, in the units of a journal; "" of anything else."""
    if kind == "size" and units.get("length") == "in":
        return "9.5 x 8.5 x 5 in"
    if kind == "volume-or-share" and (unit := KINDS["volume"].unit(units.get("volume", ""))) and unit.symbol == "gal":
        return "10 gal or 10 %"
    if kind not in KINDS:
        return ""
    usual = parse_quantity(KINDS[kind].example, kind)
    unit = KINDS[kind].unit(units.get(kind, ""))
    if unit is None or unit.symbol == usual.unit or not unit.has_line or not usual.has_factor:
        return KINDS[kind].example
    value = level_in(kind, usual.canonical(), unit.symbol)
    digits = 4 if unit.form else 0 if value >= 100 else 1
    return f"{value:.{digits}f} {unit.symbol}"


def dry_dose(said: str, tables: Tables, known: Terms) -> Refusal | None:
    """What to write instead of a mass of a compound or of a solution; None if this is none."""
    if not (dry := _DRY.fullmatch(said.strip())):
        return None
    name = folded_text(re.sub(r"^(?:dry|powdered) +| +powder$", "", dry[2] or dry[3], flags=re.IGNORECASE))
    wrong = f"'{said.strip()}' is a mass, and a dose is a volume of a solution"
    if compound := tables.choices["compound"].get(name):
        strength = _AS_DISSOLVED.get(compound, _USUALLY_DISSOLVED)
        millilitres = 1000.0 * float((dry[1] or dry[4]).replace(",", ".")) / strength
        dissolved = f"solution powder {compound} {strength:g} g/L; dosed powder {millilitres:.0f} mL"
        return Refusal(said, wrong, f"write what it was dissolved in, such as '{dissolved}'")
    if solution := known.names.get("solution", {}).get(name):
        return Refusal(said, wrong, f"write for example 'dosed {solution} 40 mL'")
    return None


def unnamed(rest: str, tables: Tables, known: Terms) -> Refusal | None:
    """Why words are no note but a fact that lacks its name: what is left of a segment, or its part before a comma."""
    for said in dict.fromkeys(each.rstrip() for each in (_COMMA.split(rest, maxsplit=1)[0], rest)):
        if _is_of_corals(said, tables, known):
            remedy = "write its name as its file has it; if it is a note, write 'note:' before it"
            return Refusal(said, f"'{said}' does not say which coral", remedy)
        if pump := _of_a_pump(said, known):
            remedy = (
                f"write '{pump} off', or '{pump} 62 mL/day' with your rate; if it is a note, write 'note:' before it"
            )
            return Refusal(said, f"'{said}' does not say what the pump of {pump} gives from now on", remedy)
        if pumps := _of_pumps(said, known):
            off = ", ".join(f"{id} off" for id in pumps)
            remedy = (
                f"write '{off}', or those of them that stopped; if no dosing pump is meant, write 'note:' before it"
            )
            return Refusal(said, f"'{said}' does not say which pumps", remedy)
    return None


def _is_of_corals(said: str, tables: Tables, known: Terms) -> bool:
    """Whether words tell of corals here how they are or that they are gone, and name none: 'tide lantern died'."""
    of, _, last = folded_text(said).rpartition(" ")
    of = re.sub(r" (?:has|have|is|are|all)$", "", of)
    if not of or not any(last in row.words for row in tables.rows if row.into in _HOW_IT_IS):
        return False
    corals = known.names.get("coral", {})
    every = Scanner(of).name([name for name, id in corals.items() if id == ALL])
    return every is not None or any(name.startswith(f"{of} ") for name in corals)


def _of_a_pump(said: str, known: Terms) -> str | None:
    """The solution whose pump starts or stops by these words, which no fact says: 'soda on', 'stopped dosing soda'."""
    words = folded_text(said)
    if not _STARTS_OR_STOPS.search(words) or re.search(r"\d", words):
        return None
    solutions = known.names.get("solution", {})
    return next((id for name, id in solutions.items() if re.search(rf"\b{re.escape(name)}\b", words)), None)


def _of_pumps(said: str, known: Terms) -> list[str]:
    """The solutions of which it may be, where words start or stop pumps and name none: 'all pumps off'."""
    words = folded_text(said)
    if not _STARTS_OR_STOPS.search(words) or not _PUMPS.search(words) or re.search(r"\d", words):
        return []
    return sorted(set(known.names.get("solution", {}).values()))


def when_or_what(scanner: Scanner, tables: Tables, known: Terms, name: str) -> tuple[str, str] | None:
    """Why what stands after the name of a quantity is a time, or may be one: 'kh 8.11. 21 Uhr'."""
    remedy = f"write when first, as in 'yesterday 21:00 {name} {example_of(tables.quantities[name], known.units)}'"
    if either := _DAY_OR_NUMBER.match(scanner.rest):
        return f"'{either[0].strip()}' after '{name}' can be its number or a day", remedy
    if not _NUMBER_AND_STOP.match(scanner.rest) and stands_before_moment(scanner, tables, known.now, known.date_order):
        return f"after '{name}' stands a time, and not its number", remedy
    return None


def beside_all(scanner: Scanner, start: int, tables: Tables) -> tuple[str, str] | None:
    """Why words after 'moved all' are no place to move to: 'moved all acropora'."""
    said, place = scanner.text[start : scanner.place].strip(), scanner.place
    scanner.fillers(tables.fillers)
    went, word = scanner.place > place, scanner.word()
    scanner.place = place
    return None if went or not word else _which_corals(word, said)


def _which_corals(word: str, said: str) -> tuple[str, str]:
    remedy = "write 'all' alone for every coral of this water, or the name of each; a cause stands after a ':'"
    return f"'{word}' stands beside '{said}', so which corals are meant is not sure", remedy


def _beside(said: str, before: Fact, known: Terms) -> tuple[str, str] | None:
    """Why words that follow a fact turn it into another, if they do."""
    if before.into in ("doses", "pumps") and _A_DAY.match(said):
        (solution, amount), *_ = before.values.items()
        return f"'{before.said}' is a dose, and '{said}' makes a pump's rate of it", f"write '{solution} {amount}/day'"
    if TURNS.match(said):
        remedy = "write what is so, such as 'recovered', or a note in a line of its own"
        return f"'{said}' can turn round '{before.said}'", remedy
    corals = known.names.get("coral", {})
    name = Scanner(said).whole_name(corals)
    if before.coral == ALL or (before.into in OF_SEVERAL and name is not None and corals[name] == ALL):
        return _which_corals(said, before.said)
    return None


def not_understood(said: str, before: Fact | None, is_beside: bool, tables: Tables, known: Terms) -> Refusal:
    """Why a part of a line that begins no fact means nothing; `before` is the fact before it, `is_beside` whether a
    comma parts the two.
    """
    if dry := dry_dose(said, tables, known):
        return dry
    if before is not None and (beside := _beside(said, before, known)):
        return Refusal(said, *beside)
    if vague := VAGUE.match(said):
        yesterday = known.now.date() - timedelta(days=1)
        return Refusal(said, f"'{vague[0]}' does not say which day", f"write for example '{yesterday} 21:00'")
    first = re.match(r"[^\W\d]+", folded_text(said))
    near = nearly(first[0], tables.openings()) if first else ""
    if ran_out := _RAN_OUT.match(said):
        return Refusal(said, *_water_lost(ran_out))
    if not near and (poured := _POURED.fullmatch(said)):
        return Refusal(said, *none_of("solution", poured[1], known.names.get("solution", {})))
    corals = known.names.get("coral", {})
    if before is not None and before.into in OF_SEVERAL and is_beside and (word := _NAME.match(said)):
        close = get_close_matches(folded_text(word[0]), corals, n=1, cutoff=0.8)
        if close and folded_text(word[0]) not in corals:
            return Refusal(said, f"there is no coral '{word[0]}'", f"did you mean {corals[close[0]]}?")
    if kit := _KIT.fullmatch(said):
        wrong, remedy = none_of("kit", kit[1], known.names.get("kit", {}))
        unnamed = folded_text(kit[1]) in (*tables.fillers, "my")
        return Refusal(said, "which kit it was is not said" if unnamed else wrong, remedy)
    solutions = known.names.get("solution", {})
    if re.search(r"\d", said) and (solution := Scanner(re.sub(r"^set +", "", said)).whole_name(solutions)):
        id = solutions[solution]
        return Refusal(
            said, f"'{said}' is not understood", f"write for example 'dosed {id} 40 mL', or '{id} 62 mL/day'"
        )
    # After a comma it is not what was poured in.
    changed = before is not None and not is_beside and before.into == "water_change" and "mix" not in before.values
    if changed and _MIX.fullmatch(said):
        return Refusal(said, *none_of("mix", said, known.names.get("mix", {})))
    lost = before is not None and before.values.get("how") == "lost"
    if not lost and (partner := _PARTNER.fullmatch(said)):
        names = known.names.get("partner", {})
        close = get_close_matches(folded_text(partner[1]), names, n=1)
        wrong, remedy = none_of("partner", partner[1], {})
        return Refusal(said, wrong, f"did you mean {names[close[0]]}?" if close else remedy)
    remedy = f"did you mean {near}?" if near else "if it is a note, write 'note:' before it, after a ';'"
    return Refusal(said, f"'{said}' is not understood", remedy)
