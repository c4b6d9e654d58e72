"""What keepers, kits and meters call the quantities, beside the names that the files use."""

from generator.units.kinds import KINDS, WATER_KINDS

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
    "salinity": ("sal", "sg", "specific gravity"),
    "temperature": ("temp", "t"),
}
# A name that says the unit of a bare number.
UNIT_OF_NAME = {"kh": "dKH", "dkh": "dKH"}

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

_KIND_OF = {name: kind for kind, names in NAMES.items() for name in names} | {kind: kind for kind in WATER_KINDS}


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
