"""A small journal made of records, with its findings by hand: two systems, a line of three, and things to keep private.

Every text that must not reach the public holds the word CANARY, and so does nothing else.
"""

import dataclasses
import pickle
from datetime import UTC, date, datetime, timedelta
from zoneinfo import ZoneInfo

from msgspec.structs import replace

from generator.reckon.analysis.journal import Findings, analyse
from generator.reckon.attention.alert import Alert, Fact, Named
from generator.reckon.finding import CannotTell, Finding, UncertaintyPart
from generator.reckon.water.estimate import told_since
from generator.reckon.water.findings import (
    Calcification,
    DoubtfulReading,
    Forecast,
    Latest,
    LedgerLine,
    Noise,
    TrackPoint,
    Trend,
    UnexplainedShift,
    Uptake,
    WaterFindings,
)
from generator.records.coral import (
    Arrival,
    Coral,
    Cutting,
    End,
    Health,
    Origin,
    Photo,
    Placement,
    Size,
    Statement,
    Verdict,
    Weighing,
)
from generator.records.fields import Money
from generator.records.journal import Entry, Journal
from generator.records.log import AlertKind, Dose, Event, Note, PumpRate, Reading, SystemLog, WaterChange
from generator.records.settings import Container, Publish, Settings
from generator.records.source import Source
from generator.records.system import Kit, Levels, Place, Solution, System, Water
from generator.records.trade import (
    Appointed,
    Given,
    Newcomer,
    Owed,
    Partner,
    Planned,
    Received,
    State,
    Trade,
    Travel,
    WaterTemperature,
)
from generator.render.audience import Hand, Paper, Papers, View, view
from generator.render.base.context import PageContext, Shared
from generator.render.base.numbers import display_of
from generator.render.base.prose import Copy, PhotoCopies
from generator.render.base.ties import ties
from generator.render.base.words import words_of
from generator.units.quantity import Estimate, Quantity
from tests.render.pages import Site, site

AS_OF = datetime(2026, 3, 10, 20, 0, tzinfo=UTC)
PICTURES = {"photos/lantern.jpg": PhotoCopies((Copy("photos/lantern-480.webp", 480, 320),))}


def of(value: float, unit: str, kind: str, digits: int = 1) -> Quantity:
    """A quantity as written."""
    return Quantity(value, unit, kind, digits)


def line(number: int, file: str = "logs/lagoon/2026-03.yaml") -> Source:
    """A line of a file."""
    return Source(file, number)


def ago(days: float) -> datetime:
    """A moment some days before the build."""
    return AS_OF - timedelta(days=days)


def settings(**given: object) -> Settings:
    """journal.yaml."""
    basic: dict[str, object] = {
        "source": Source("journal.yaml"),
        "title": "Two tanks",
        "keeper": "Wren Halloway",
        "time_zone": ZoneInfo("Europe/Lisbon"),
        "base_url": "https://example.org/reef/",
        "units": {"alkalinity": "dKH"},
        "publish": Publish(source=Source("journal.yaml")),
        "date_order": "day-month-year",
        "containers": {
            "canary-crate": Container(
                source=Source("journal.yaml"),
                length=of(70, "cm", "length", 0),
                width=of(50, "cm", "length", 0),
                height=of(44, "cm", "length", 0),
            )
        },
    }
    return Settings(**{**basic, **given})  # type: ignore[arg-type]


def system(id: str = "lagoon", **given: object) -> System:
    """A system with a band for what is read."""
    here = Source(f"systems/{id}.yaml")
    basic: dict[str, object] = {
        "source": here,
        "id": id,
        "name": id.capitalize(),
        "water": Water(source=here, volume=of(412, "L", "volume", 0), uncertainty=of(8, "L", "volume", 0)),
        "low": Levels(source=here, alkalinity=of(7.8, "dKH", "alkalinity"), calcium=of(400, "mg/L", "calcium", 0)),
        "high": Levels(
            source=here,
            alkalinity=of(8.6, "dKH", "alkalinity"),
            calcium=of(450, "mg/L", "calcium", 0),
            nitrate=of(10, "mg/L", "nitrate", 0),
        ),
        "kits": {"drop": Kit(source=here, precision=Levels(source=here, alkalinity=of(0.15, "dKH", "alkalinity", 2)))},
        "places": {
            "crest": Place(
                source=here,
                x=of(5, "cm", "length"),
                y=of(4, "cm", "length"),
                width=of(60, "cm", "length"),
                depth=of(30, "cm", "length"),
                light=of(200, "PAR", "light", 0),
                flow="strong",
            )
        },
        "photoperiod": of(10, "h", "duration", 0),
        "solutions": {
            "soda": Solution(source=here, compound="Na2CO3", strength=of(60, "g/L", "strength", 0), note="CANARY-stock")
        },
    }
    return System(**{**basic, **given})  # type: ignore[arg-type]


READINGS = (
    Reading(source=line(3), at=ago(6), kind="alkalinity", value=of(8.2, "dKH", "alkalinity"), kit="drop"),
    Reading(source=line(9), at=ago(3), kind="alkalinity", value=of(9.9, "dKH", "alkalinity"), kit="drop"),
    Reading(source=line(12), at=ago(1), kind="alkalinity", value=of(7.6, "dKH", "alkalinity"), kit="drop"),
    Reading(source=line(13), at=ago(1), kind="calcium", value=of(425, "mg/L", "calcium", 0)),
    Reading(source=line(14), at=ago(2), kind="nitrate", value=Quantity(0.5, "mg/L", "nitrate", 1, below=True)),
    Reading(source=line(15), at=ago(1), kind="temperature", value=of(25.4, "°C", "temperature")),
)


def log() -> SystemLog:
    """A week: readings, a dose, a pump, new water, an event, and notes."""
    return SystemLog(
        system="lagoon",
        readings=READINGS,
        doses=(Dose(source=line(5), at=ago(5), solution="soda", amount=of(30, "mL", "volume", 0)),),
        pumps=(PumpRate(source=line(6), at=ago(5), solution="soda", rate=of(40, "mL/day", "rate", 0)),),
        water_changes=(WaterChange(source=line(7), at=ago(4), volume=of(40, "L", "volume", 0), mix=None),),
        events=(Event(source=line(8), at=ago(4), what="arrival", coral="back-coral", text="CANARY-event"),),
        notes=(Note(source=line(10), at=ago(3), text="CANARY-note", private=True),),
    )


def coral(id: str = "tide-lantern-1", **given: object) -> Coral:
    """A coral with something in every list."""
    here = Source(f"corals/{id}.yaml")
    day = date(2026, 2, 1)
    basic: dict[str, object] = {
        "source": here,
        "id": id,
        "name": id.replace("-", " ").title(),
        "species": "Acropora millepora",
        "line": "tide-lantern",
        "form": "corymbose",
        "arrival": Arrival(
            source=here, at=day, how="trade", partner="canary-person", trade="2026-02-01-swap", note="CANARY-arrival"
        ),
        "origin": Origin(source=here, region="Coral Sea", year=2019, permit="CANARY-permit", source_code="C"),
        "placements": (
            Placement(source=here, since=day, system="lagoon", place="crest", light=of(250, "PAR", "light", 0)),
        ),
        "sizes": (Size(source=here, at=day, length=of(12.5, "cm", "length")),),
        "weighings": (
            Weighing(
                source=here,
                at=day,
                mass=of(212, "g", "mass", 0),
                resolution=of(1, "g", "mass", 0),
                holder=of(30, "g", "mass", 0),
            ),
        ),
        "cuttings": (Cutting(source=here, at=date(2026, 2, 20), frags=2, into=("back-coral",)),),
        "health": (Health(source=here, at=date(2026, 2, 3), what="well"),),
        "photos": (
            Photo(source=here, file="lantern.jpg", alt="A lantern of green tips"),
            Photo(source=here, file="canary-photo.jpg", alt="CANARY-alt", audience="own"),
        ),
        "private": "CANARY-coral",
        "story": "Grown from a stub in [the lagoon](system:lagoon), with [another](coral:back-coral).",
    }
    return Coral(**{**basic, **given})  # type: ignore[arg-type]


def planned(**given: object) -> Planned:
    """A plan with everything a plan can say, which is nobody else's business."""
    here = Source("plans/canary-plan.yaml")
    basic: dict[str, object] = {
        "source": here,
        "id": "canary-plan",
        "since": date(2026, 3, 1),
        "date": Appointed(date(2026, 3, 14), datetime(2026, 3, 14, 14, 30, tzinfo=UTC)),
        "partner": "canary-person",
        "coming": (
            Newcomer(
                source=Source("plans/canary-plan.yaml", 4),
                coral="canary-table-1",
                name="CANARY-colony",
                species="Acropora millepora",
                form="tabling",
                length=of(24, "cm", "length", 0),
                width=of(20, "cm", "length", 0),
                height=of(9, "cm", "length", 0),
                light=of(250, "PAR", "light", 0),
                light_to=of(350, "PAR", "light", 0),
                flow="strong",
            ),
        ),
        "going": (Given(source=here, coral="tide-lantern-1"),),
        "keeps": "2026-02-01-swap",
        "travel": Travel(source=here, duration=of(2, "h", "duration", 0), container="canary-crate"),
        "note": "CANARY-plan",
    }
    return Planned(**{**basic, **given})  # type: ignore[arg-type]


def trade(**given: object) -> Trade:
    """A swap with someone who agreed to have it shown, unnamed."""
    here = Source("trades/2026-02-01-swap.yaml")
    basic: dict[str, object] = {
        "source": here,
        "id": "2026-02-01-swap",
        "at": date(2026, 2, 1),
        "partner": "canary-person",
        "gave": (
            Given(source=here, coral="tide-lantern-2", frags=3, worth=Money(71234.5, "EUR")),
            Given(source=here, coral="back-coral", whole=True),
        ),
        "received": (Received(source=here, coral="tide-lantern-1"),),
        "paid": Money(71234.5, "EUR"),
        "owed": (Owed(source=here, by="us", what="CANARY-owed", coral="tide-lantern-1", due=date(2026, 3, 1)),),
        "travel": Travel(
            source=here,
            duration=of(50, "min", "duration", 0),
            distance=of(71234.5, "km", "distance"),
            container="canary-crate",
            water=of(9, "L", "volume", 0),
            temperatures=tuple(
                WaterTemperature(
                    source=here,
                    after=of(minutes, "min", "duration", 0),
                    water=of(water, "°C", "temperature"),
                    air=of(12, "°C", "temperature", 0),
                )
                for minutes, water in ((0, 25.2), (50, 24.1))
            ),
            packing="CANARY-packing",
        ),
        "inspection": "CANARY-inspection",
        "checks": (State(source=here, days=1, condition="good", note="CANARY-state"),),
        "note": "CANARY-note-of-trade",
        "private": "CANARY-private-trade",
        "audience": "public",
    }
    return Trade(**{**basic, **given})  # type: ignore[arg-type]


def entry(id: str = "2026-03-02-cut", **given: object) -> Entry:
    """A journal entry."""
    basic: dict[str, object] = {
        "source": Source(f"entries/{id}.md"),
        "id": id,
        "title": "A cut",
        "at": date(2026, 3, 2),
        "summary": "What was cut",
        "systems": ("lagoon",),
        "corals": ("tide-lantern-1", "back-coral"),
        "body": "Cut [the lantern](coral:tide-lantern-1).\n\n| a | b |\n|---|--:|\n| 1 | 2 |\n",
        "body_line": 6,
    }
    return Entry(**{**basic, **given})  # type: ignore[arg-type]


def partner(*shows: str) -> Partner:
    """A partner whose very id is a name."""
    return Partner(
        source=Source("partners/canary-person.yaml"),
        id="canary-person",
        name="CANARY-name",
        public_name="Someone by the bay",
        shows=shows,  # type: ignore[arg-type]
        private="CANARY-partner",
    )


def journal(**given: object) -> Journal:
    """The whole journal."""
    own = coral("back-coral", name="CANARY-back-coral", audience="own", placements=(), photos=(), story="CANARY-story")
    child = coral(
        "tide-lantern-2", parent="tide-lantern-1", end=End(source=line(1, "c"), at=date(2026, 3, 1), how="given")
    )
    basic: dict[str, object] = {
        "settings": settings(),
        "systems": {"back-room": system("back-room", name="CANARY-room", audience="own"), "lagoon": system()},
        "logs": {"lagoon": log()},
        "corals": {c.id: c for c in (own, coral(), child)},
        "trades": {"2026-02-01-swap": trade()},
        "partners": {"canary-person": partner("trades")},
        "entries": {
            "2026-03-02-cut": entry(),
            "2026-03-05-own": entry("2026-03-05-own", title="CANARY-entry", audience="own", body="CANARY-body"),
        },
        "plans": {"canary-plan": planned()},
    }
    return Journal(**{**basic, **given})  # type: ignore[arg-type]


def _estimate(value: float, half: float, unit: str) -> Estimate:
    return Estimate(value, value - half, value + half, unit)


def _latest(reading: Reading, low: float | None, high: float | None) -> Latest:
    value = reading.value.canonical()
    standing = "low" if low is not None and value < low else "within" if high is not None else "no-band"
    return Latest(reading, value, low, high, None, standing, (AS_OF - reading.at).days, False)


def findings(id: str = "lagoon") -> WaterFindings:
    """One of everything that can be found, and one of everything that cannot be told."""
    parts = (UncertaintyPart("readings-and-drift", 0.03), UncertaintyPart("water-volume", 0.01))
    inputs = tuple(reading.source for reading in READINGS[:3]) + tuple(line(20 + n) for n in range(12))
    per_day = Finding(_estimate(0.36, 0.05, "meq/L/day"), "uptake", (*inputs, line(5)), parts)
    grams = Finding(_estimate(7.4, 1.2, "g/day"), "calcification", inputs, parts)
    unknown = CannotTell("one-reading", "read-again-later", inputs=(line(13),))
    declared = Noise(0.0535, "declared")
    track = tuple(
        TrackPoint(ago(days), _estimate(2.9, 0.06, "meq/L"), _estimate(0.36, 0.08, "meq/L/day")) for days in (6, 3, 0)
    )
    doubt = DoubtfulReading(READINGS[1], READINGS[1].value.canonical(), _estimate(2.88, 0.07, "meq/L"), 4.6)
    ends = (of(7.8, "dKH", "alkalinity").canonical(), of(8.6, "dKH", "alkalinity").canonical())
    return WaterFindings(
        system=id,
        as_of=AS_OF,
        latest={
            "alkalinity": _latest(READINGS[2], *ends),
            "calcium": _latest(READINGS[3], 400.0, 450.0),
            "nitrate": _latest(READINGS[4], None, 10.0),
            "temperature": _latest(READINGS[5], None, None),
        },
        ledger=(
            LedgerLine(ago(5), ago(5), "alkalinity", 0.12, "meq/L", "dose", line(5), "soda"),
            LedgerLine(ago(6), AS_OF, "alkalinity", -2.1, "meq/L", "uptake", line(3)),
        ),
        uptake={
            "alkalinity": Uptake("alkalinity", per_day, per_day, track, (doubt,), declared, declared, 3, ago(1)),
            "calcium": Uptake("calcium", unknown, unknown, (), (), declared, declared, 1, ago(1)),
        },
        calcification=Calcification(
            grams,
            grams,
            CannotTell("no-calcium", "read-calcium"),
            (UnexplainedShift(ago(5), ago(3), _estimate(0.4, 0.1, "meq/L"), 5.0, (line(3), line(9))),),
        ),
        forecasts={"alkalinity": Forecast("alkalinity", "low", ago(-2), ago(-4), None, 30.0, ()), "calcium": unknown},
        trends={"nitrate": Trend("nitrate", CannotTell("too-few-readings", "read-more", (("readings", "1"),)), 9.0, 1)},
        readings=tuple((reading, reading.value.canonical()) for reading in READINGS),
    )


def alerts(system: str = "lagoon") -> tuple[Alert, ...]:
    """One alert of every kind about a quantity."""
    at, day = ago(1), AS_OF.date()
    size = _estimate(0.36, 0.05, "meq/L/day")
    facts: dict[AlertKind, dict[str, Fact]] = {
        "out-of-band": {"side": "low", "at": at},
        "leaving-band": {"side": "high", "likely": day, "earliest": day},
        "doubtful-reading": {"at": at},
        "unexplained-shift": {"after": at, "before": at, "side": "more"},
        "unexplained-uptake": {"side": "less"},
        "pump-gives-less": {"solution": "soda", "odds": 93},
        "pump-to-mend": {
            "solution": "soda",
            "gave": of(12, "mL/day", "rate", 0),
            "set_to": of(60, "mL/day", "rate", 0),
            "at": at,
        },
        "no-reading": {"days": 12, "usual": 3, "at": at},
        "missed-dose": {"solution": "soda", "amount": of(45, "mL", "volume", 0), "since": day, "at": at},
        "trend": {"side": "high", "days": 20},
        "uptake-changed": {"side": "more", "since": day},
        "aragonite-saturation": {"side": "low"},
        "salinity-in-doubt": {"side": "more", "salts": 3},
        "salt-out-of-balance": {"side": "low", "at": at},
        "phosphate-short": {"least": 40},
        "temperature-swing": {"side": "day"},
    }
    unsized = ("no-reading", "missed-dose", "pump-to-mend")
    return tuple(
        Alert(
            kind=kind,
            system=system,
            quantity="alkalinity",
            mark="x",
            size=None if kind in unsized else replace(size, unit="meq/L") if kind == "unexplained-shift" else size,
            facts=filled,
            inputs=(line(9),),
            weight=-number,
        )
        for number, (kind, filled) in enumerate(facts.items())
    )


def coral_alerts() -> tuple[Alert, ...]:
    """One alert of every kind about corals; that of the hidden coral must not be told."""
    day = AS_OF.date()
    days: dict[str, Fact] = {"since": day, "likely": day, "earliest": day, "latest": None}
    facts: dict[AlertKind, dict[str, Fact]] = {
        "light-step-up": {"step": 1, "steps": 4, "par": of(120, "PAR", "light", 0), "latest": day},
        "neighbours-touch": days,
        "too-close": {**days, "safe": of(5, "cm", "length", 0)},
        "outgrows-place": {**days, "place": "crest", "edge": Named("edge", "left")},
        "line-at-risk": {"side": "piece", "pieces": 1},
        "ailing": {"side": "bleaching", "since": day},
    }
    return tuple(
        Alert(
            kind=kind,
            system="lagoon",
            subject=subject,
            mark="x",
            size=_estimate(1.2, 0.3, "cm") if "likely" in filled else None,
            facts=filled,
            inputs=(Source(f"corals/{subject[0]}.yaml", 3),),
        )
        for kind, filled in facts.items()
        for subject in (
            [("tide-lantern",)] if kind == "line-at-risk" else [("tide-lantern-1",), ("tide-lantern-1", "back-coral")]
        )
    )


def trade_alerts() -> tuple[Alert, ...]:
    """A promise that is overdue, and a look at a coral that was not taken."""
    day = AS_OF.date()
    of_trade: dict[str, Fact] = {"due": day, "trade": Named("trade", "2026-02-01-swap")}
    owed = {**of_trade, "days": -9, "partner": Named("partner", "canary-person"), "side": "us"}
    here = (Source("trades/2026-02-01-swap.yaml", 7),)
    return (
        Alert(
            kind="owed", subject=("2026-02-01-swap",), mark="x", facts={**owed, "what": "CANARY-promise"}, inputs=here
        ),
        Alert(
            kind="state-check",
            system="lagoon",
            subject=("tide-lantern-1",),
            mark="14",
            facts={**of_trade, "came": day, "days": 14},
            inputs=here,
        ),
    )


def papers() -> Papers:
    """The record of a coral that went through hands nobody may name, and that of what was given in the trade."""
    day = date(2026, 2, 1)
    who = (("coral", "Tide Lantern 1"), ("keeper", "CANARY-keeper"))
    told = (
        Statement("coral", (*who, ("species", "Acropora millepora"), ("how", "trade"), ("date", "2026-02-01"))),
        Statement("papers", (*who, ("permit", "CANARY-permit"))),
        Statement("papers", (*who, ("year", "2019"), ("permit", "CANARY-permit"))),
    )
    last = (("coral", "Tide Lantern 1"), ("corals", "2"), ("hands", "2"), ("oldest", "CANARY-back-coral"))
    chain = Statement("chain", (*last, ("keeper", "CANARY-keeper")))
    found = Verdict(f"sha256:{'ab' * 32}", (chain,), told)
    hands = (
        Hand("Tide Lantern 1", "tide-lantern-1", "Wren Halloway", "trade", day),
        Hand("CANARY-back-coral", "back-coral", "CANARY-keeper", "bought", day),
    )
    came = replace(found, refused="CANARY-file is not as it came")
    paper = Paper("tide-lantern-1", day, "Wren Halloway", found, (hands,), file="received/x.json", came_with=came)
    of_trade = replace(paper, id="2026-02-01-swap", came_with=None, document=b'{"CANARY": "document"}')
    hidden = replace(paper, id="back-coral")
    return Papers({"tide-lantern-1": paper, "back-coral": hidden}, {"2026-02-01-swap": of_trade})


def seen(audience: str = "public", **given: object) -> View:
    """The journal as an audience sees it."""
    return view(journal(**given), audience)  # type: ignore[arg-type]


def context(of_view: View, at: datetime = AS_OF, zone: ZoneInfo | None = None) -> PageContext:
    """What the pages of a view are made from at a moment, on the clock of a zone or the journal's; nothing is found."""
    shown = display_of(of_view.settings, of_view.systems, (log.units() for log in of_view.logs.values()))
    shown = replace(shown, zone=zone or shown.zone)
    return PageContext(Shared(of_view, Findings(at), (), {}, at, words_of("en"), shown, {}, ties(of_view)))


def built(of_view: View, given: Papers | None = None) -> Site:
    """The site of a view, with findings for both systems and with these records of origin or the usual ones.

    The same is built once.
    """
    key = pickle.dumps((of_view, given))
    if key not in _BUILT:
        _BUILT[key] = _built(of_view, given)
    return _BUILT[key]


_BUILT: dict[bytes, Site] = {}


def _built(of_view: View, given: Papers | None) -> Site:
    both = {id: findings(id) for id in ("lagoon", "back-room")}
    # As if the journal held what the view was given beside all that is hidden from it.
    whole = journal()
    if of_view.writes:
        whole = dataclasses.replace(whole, corals={}, systems={}, trades=of_view.trades)
    corals = {**(whole.corals if set(of_view.corals) <= set(whole.corals) else {}), **of_view.corals}
    told = analyse(dataclasses.replace(whole, corals=corals, systems={**whole.systems, **of_view.systems}), AS_OF)
    seen = {id: both[id] for id in both if id in told.water}
    stretches = {f"{id}/lately": told_since(water, None) for id, water in seen.items()}
    found = dataclasses.replace(told, water=seen, whole_water=seen, stretches=stretches)
    every = (*alerts(), *alerts("back-room"), *coral_alerts(), *trade_alerts())
    there = {"", *of_view.systems, *of_view.corals, *of_view.trades, *found.families}
    about = (
        alert
        for alert in every
        if {
            alert.system,
            *alert.subject,
            *(f.id for f in alert.facts.values() if isinstance(f, Named) and f.kind == "trade"),
        }
        <= there
    )
    return site(of_view, found, tuple(about), AS_OF, PICTURES, given or papers())
