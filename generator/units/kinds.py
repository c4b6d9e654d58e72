"""The kinds of quantity a keeper writes, every unit each may be written in, and what keepers and kits call them."""

from functools import cached_property, lru_cache

from msgspec import Struct

from generator.units.compounds import molar_mass


class Unit(Struct, frozen=True):
    """One unit of one kind: value * factor + offset is the value in the kind's canonical unit.

    `per_kg` marks units per kilogram of seawater: multiply by the density (kg/L) as well.
    `form` names a conversion that is not a factor; then `factor` and `offset` are of the straight line by which a
    value is shown, if there is one, and nothing is calculated with. `kitchen` marks measures that are written for
    another only by who measures so.
    """

    symbol: str
    factor: float = 1.0
    offset: float = 0.0
    per_kg: bool = False
    form: str = ""
    aliases: tuple[str, ...] = ()
    kitchen: bool = False

    @property
    def has_line(self) -> bool:
        """Whether a straight line leads to the canonical unit: exactly, or as near as any instrument reads."""
        return not self.form or self.form == "specific gravity"


class Kind(Struct, frozen=True, dict=True):
    """A kind of quantity: `canonical` is the unit of all calculations.

    `plausible` bounds, in the canonical unit, what a reading can be in a living reef. They catch typing
    mistakes and are common practice, no source. None: no bounds.
    """

    id: str
    canonical: str
    units: tuple[Unit, ...]
    example: str
    plausible: tuple[float, float] | None = None
    words: str = ""

    @cached_property
    def _by_name(self) -> dict[str, Unit]:
        return {_fold(name): unit for unit in self.units for name in (unit.symbol, *unit.aliases)}

    def unit(self, name: str) -> Unit | None:
        """The unit written as `name`, or None if this kind has no such unit."""
        return self._by_name.get(_fold(name))


@lru_cache(maxsize=1024)
def _fold(name: str) -> str:
    # The micro sign and the Greek mu look the same and are both on keyboards.
    return name.replace("\u00b5", "u").replace("\u03bc", "u").replace("°", "").replace(" ", "").lower()


def _dissolved(id: str, formula: str, example: str, plausible: tuple[float, float], *extra: Unit) -> Kind:
    """A dissolved substance: mg/L, mg/kg, µg/L and molar units, from its molar mass."""
    mass = molar_mass(formula)
    units = (
        # ppm is mg/kg by rights, 2 % less in seawater. Kits print it for mg/L, and none is as good as 2 %.
        Unit("mg/L", 1.0, aliases=("ppm",)),
        Unit("µg/L", 1e-3, aliases=("ppb",)),
        Unit("mg/kg", 1.0, per_kg=True),
        Unit("mmol/L", mass),
        Unit("µmol/L", mass / 1e3),
        Unit("mmol/kg", mass, per_kg=True),
        Unit("µmol/kg", mass / 1e3, per_kg=True),
        *extra,
    )
    return Kind(id, "mg/L", units, example, plausible, id)


def _gravity(symbol: str, sea: float, per_psu: float) -> Unit:
    """Specific gravity, by its value in standard seawater (S = 35) and by what each psu adds to it.

    Source: TEOS-10 between S = 32 and 38. From 30 to 42 the straight line is true to 0.00001, down to 20 to 0.00005.
    """
    return Unit(symbol, 1.0 / per_psu, 35.0 - sea / per_psu, form="specific gravity")


# One degree of carbonate hardness is the alkalinity equivalent of 10 mg CaO per litre (superseded
# German degree, DIN 38409 family); CaO neutralises two equivalents a mole.
MEQ_PER_DKH = 20.0 / molar_mass("CaO")
MEQ_PER_MG_CACO3 = 2.0 / molar_mass("CaCO3")

_N = molar_mass("N")
_P = molar_mass("P")

WATER: tuple[Kind, ...] = (
    Kind(
        "alkalinity",
        "meq/L",
        (
            Unit("meq/L", 1.0, aliases=("meq",)),
            Unit("dKH", MEQ_PER_DKH, aliases=("°dKH", "dH", "KH")),
            Unit("mmol/L", 1.0),
            Unit("mg/L CaCO3", MEQ_PER_MG_CACO3, aliases=("mg/L as CaCO3", "ppm CaCO3", "ppm as CaCO3")),
            Unit("µmol/kg", 1e-3, per_kg=True, aliases=("µeq/kg",)),
            Unit("mmol/kg", 1.0, per_kg=True, aliases=("meq/kg",)),
        ),
        "8.1 dKH",
        (0.7, 7.2),
        "alkalinity",
    ),
    _dissolved("calcium", "Ca", "425 mg/L", (200.0, 700.0)),
    _dissolved("magnesium", "Mg", "1290 mg/L", (600.0, 2200.0)),
    _dissolved("potassium", "K", "400 mg/L", (150.0, 800.0)),
    _dissolved("strontium", "Sr", "8.0 mg/L", (0.5, 40.0)),
    _dissolved("boron", "B", "4.6 mg/L", (0.2, 40.0)),
    _dissolved(
        "nitrate",
        "NO3",
        "5 mg/L",
        (0.0, 200.0),
        Unit("mg/L N", molar_mass("NO3") / _N, aliases=("mg/L NO3-N", "mg/L as N")),
    ),
    _dissolved(
        "nitrite",
        "NO2",
        "0.02 mg/L",
        (0.0, 10.0),
        Unit("mg/L N", molar_mass("NO2") / _N, aliases=("mg/L NO2-N", "mg/L as N")),
    ),
    _dissolved(
        "ammonium",
        "NH4",
        "0.02 mg/L",
        (0.0, 10.0),
        Unit("mg/L N", molar_mass("NH4") / _N, aliases=("mg/L NH4-N", "mg/L as N")),
    ),
    _dissolved(
        "phosphate",
        "PO4",
        "0.05 mg/L",
        (0.0, 5.0),
        Unit("mg/L P", molar_mass("PO4") / _P, aliases=("mg/L PO4-P", "mg/L as P")),
        Unit("µg/L P", molar_mass("PO4") / _P / 1e3, aliases=("µg/L as P",)),
    ),
    _dissolved(
        "silicate",
        "SiO2",
        "0.1 mg/L",
        (0.0, 20.0),
        Unit("mg/L Si", molar_mass("SiO2") / molar_mass("Si"), aliases=("mg/L as Si",)),
        Unit("µg/L Si", molar_mass("SiO2") / molar_mass("Si") / 1e3, aliases=("µg/L as Si",)),
    ),
    Kind(
        "salinity",
        "psu",
        (
            # Practical salinity has no unit; "psu" and "ppt" are what meters print for it.
            Unit("psu", 1.0, aliases=("ppt", "PSS-78", "‰")),
            # Reference salinity of standard seawater: 35.16504 g/kg at practical salinity 35 (TEOS-10).
            Unit("g/kg", 35.0 / 35.16504),
            _gravity("sg 25/25", 1.02637, 0.0007576),
            _gravity("sg 20/20", 1.02661, 0.0007637),
            _gravity("sg 60F/60F", 1.02686, 0.0007705),
            _gravity("sg 20/4", 1.02479, 0.0007624),
            Unit("mS/cm", form="conductivity"),
        ),
        "35.0 psu",
        (5.0, 42.0),
        "salinity",
    ),
    Kind(
        "temperature",
        "°C",
        (
            Unit("°C", 1.0, aliases=("C", "degC", "celsius")),
            Unit("°F", 5.0 / 9.0, -160.0 / 9.0, aliases=("F", "degF", "fahrenheit")),
        ),
        "25.4 °C",
        (10.0, 40.0),
        "temperature",
    ),
    Kind(
        "ph", "NBS", (Unit("NBS", 1.0, aliases=("pH",)), Unit("total", form="pH scale")), "8.15 NBS", (6.5, 9.5), "pH"
    ),
)

_CM_PER_INCH = 2.54
_G_PER_LB = 453.59237
_L_PER_GALLON = 3.785411784

OTHER: tuple[Kind, ...] = (
    Kind(
        "length",
        "cm",
        (Unit("cm", 1.0), Unit("mm", 0.1), Unit("m", 100.0), Unit("in", _CM_PER_INCH, aliases=("inch", "inches", '"'))),
        "12.5 cm",
        words="length",
    ),
    Kind(
        "mass",
        "g",
        (
            Unit("g", 1.0),
            Unit("kg", 1e3),
            Unit("mg", 1e-3),
            Unit("lb", _G_PER_LB, aliases=("lbs",)),
            Unit("oz", _G_PER_LB / 16),
        ),
        "412 g",
        words="mass",
    ),
    Kind(
        "volume",
        "L",
        (
            Unit("L", 1.0, aliases=("litre", "litres", "liter", "liters")),
            Unit("mL", 1e-3),
            Unit("gal", _L_PER_GALLON, aliases=("US gal", "gallon", "gallons")),
            Unit("qt", _L_PER_GALLON / 4, aliases=("quart", "quarts"), kitchen=True),
            # The customary cup, half a pint: 236.588 mL (NIST Handbook 44, appendix C). On labels it holds 240 mL.
            Unit("cup", _L_PER_GALLON / 16, aliases=("cups",), kitchen=True),
            Unit(
                "fl oz", _L_PER_GALLON / 128, aliases=("fl. oz", "fl. oz.", "fluid ounce", "fluid ounces"), kitchen=True
            ),
            Unit("tbsp", _L_PER_GALLON / 256, aliases=("tablespoon", "tablespoons"), kitchen=True),
            Unit("tsp", _L_PER_GALLON / 768, aliases=("teaspoon", "teaspoons"), kitchen=True),
        ),
        "40 L",
        words="volume",
    ),
    Kind(
        "rate",
        "L/day",
        (
            Unit("mL/day", 1e-3, aliases=("mL/d", "mL/Tag")),
            Unit("L/day", 1.0, aliases=("L/d", "L/Tag")),
            Unit("mL/min", 1.44),
            Unit("mL/h", 0.024),
            Unit("L/h", 24.0),
            Unit("gal/day", _L_PER_GALLON, aliases=("gallons/day",), kitchen=True),
            Unit("fl oz/day", _L_PER_GALLON / 128, kitchen=True),
            Unit("tsp/day", _L_PER_GALLON / 768, kitchen=True),
        ),
        "62 mL/day",
        words="rate",
    ),
    Kind(
        "strength",
        "g/L",
        (
            Unit("g/L", 1.0),
            Unit("g/100mL", 10.0),
            Unit("g/gal", 1.0 / _L_PER_GALLON),
            Unit("oz/gal", _G_PER_LB / 16 / _L_PER_GALLON),
            Unit("lb/gal", _G_PER_LB / _L_PER_GALLON),
        ),
        "60 g/L",
        words="mass per volume",
    ),
    Kind("light", "PAR", (Unit("PAR", 1.0, aliases=("µmol/m²/s", "µmol/m2/s")),), "250 PAR"),
    Kind("current", "cm/s", (Unit("cm/s", 1.0),), "12 cm/s"),
    Kind(
        "duration",
        "h",
        (
            Unit("h", 1.0, aliases=("hour", "hours")),
            Unit("min", 1.0 / 60.0, aliases=("minute", "minutes")),
            Unit("days", 24.0, aliases=("day", "d")),
        ),
        "10 h",
        words="duration",
    ),
    Kind(
        "distance", "km", (Unit("km", 1.0), Unit("mi", 1.609344, aliases=("mile", "miles"))), "40 km", words="distance"
    ),
)

KINDS: dict[str, Kind] = {kind.id: kind for kind in (*WATER, *OTHER)}
WATER_KINDS: tuple[str, ...] = tuple(kind.id for kind in WATER)
# What coral takes out of the water by the gram; the others are only watched.
TAKEN_UP = ("alkalinity", "calcium", "magnesium")


def kinds_of_unit(name: str) -> tuple[Kind, ...]:
    """Every kind that has a unit of this name, in the table's order."""
    return tuple(kind for kind in KINDS.values() if kind.unit(name) is not None)


# A kind of quantity -> its other names, in lower case.
NAMES: dict[str, tuple[str, ...]] = {
    "alkalinity": ("alk", "kh", "dkh", "carbonate hardness"),
    "calcium": ("ca", "calc"),
    "magnesium": ("mg", "mag"),
    "potassium": ("k",),
    "strontium": ("sr",),
    "boron": ("b",),
    "nitrate": ("no3",),
    "nitrite": ("no2",),
    "ammonium": ("nh4", "nh3", "nh3/nh4", "ammonia"),
    "phosphate": ("po4", "phos"),
    "silicate": ("sio2",),  # not Si: counted as the element it is less than half
    "salinity": ("sal", "salt", "psu", "ppt", "sg", "specific gravity"),
    "temperature": ("temp", "t"),
}
# A name that says the unit of a bare number.
UNIT_OF_NAME = {"kh": "dKH", "dkh": "dKH", "psu": "psu", "ppt": "psu"}

# The other names (KH, Ca …) as a pattern of schemas, in small letters or large.
ANY_OTHER_NAME = (
    "^("
    + "|".join(
        "".join(f"[{each.upper()}{each}]" if each.isalpha() else each for each in name)
        for names in NAMES.values()
        for name in names
    )
    + ")$"
)

_KIND_OF = {name: id for id, names in NAMES.items() for name in names} | {id: id for id in WATER_KINDS}


def kind_named(text: str) -> str | None:
    """The kind of water's quantity that text names: `KH` is alkalinity. None if it names none."""
    return _KIND_OF.get(text.strip().lower())


def names_of_quantities() -> dict[str, str]:
    """Every name of each of the water's quantities, in lower case, with its kind."""
    return dict(_KIND_OF)


def unit_said_by(name: str, kind: str) -> str | None:
    """The unit that a name implies for a bare number: `KH` means dKH."""
    unit = UNIT_OF_NAME.get(name.strip().lower())
    return unit if unit and KINDS[kind].unit(unit) else None
