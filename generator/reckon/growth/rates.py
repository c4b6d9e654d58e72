"""Published growth and bulk density of coral, by genus and form.

A band of what can be, not a forecast: rates mix methods, places and depths, and wild colonies shrink often.
"""

from dataclasses import dataclass

from generator.records.coral import Form

_TRAITS = "Coral Trait Database 1.1.1 (CC0): Madin et al. 2016, Sci. Data 3:160017"
_NOAA = "NOAA calcification rates for carbonate budgets (MIT licence)"
_BOTH = f"range: {_TRAITS}; typical: {_NOAA}"
# Where the value of one lies below the range of the other.
_ABOVE = f"low: {_NOAA}; typical and high: {_TRAITS}"
_PRACTICE = "common practice, no source"


@dataclass(frozen=True, slots=True)
class ExtensionRange:
    """Extension in cm/year: the low and high end of what is published, and a typical value.

    An empty `genus` serves every genus of the form; an empty `form` every form of the genus.
    """

    genus: str
    form: Form | None
    low: float
    typical: float
    high: float
    source: str


# Ranges by genus are the 10th and 90th percentile of all that is published for it, in any form; those of
# corymbose and digitate Acropora end at the median, for the fast half is arborescent.
RANGES: tuple[ExtensionRange, ...] = (
    # A. hyacinthus 4.33 to 10.45, A. cytherea 2.09 to 9.32.
    ExtensionRange("Acropora", "tabling", 2.09, 7.746, 10.45, _BOTH),
    # A. muricata.
    ExtensionRange("Acropora", "branching", 4.0, 8.0, 16.6, _TRAITS),
    ExtensionRange("Acropora", "corymbose", 0.98, 2.232, 5.89, _BOTH),
    ExtensionRange("Acropora", "digitate", 0.98, 2.232, 5.89, _BOTH),
    ExtensionRange("Acropora", None, 0.98, 5.89, 12.3, _TRAITS),
    ExtensionRange("Pocillopora", None, 1.32, 2.306, 5.06, _BOTH),
    ExtensionRange("Stylophora", None, 0.89, 1.726, 3.2, _BOTH),
    ExtensionRange("Seriatopora", None, 1.105, 1.89, 5.64, _ABOVE),
    ExtensionRange("Montipora", "branching", 1.4, 2.552, 5.78, _BOTH),
    ExtensionRange("Montipora", "plating", 1.4, 2.88, 5.78, _BOTH),
    ExtensionRange("Montipora", None, 1.4, 3.21, 5.78, _TRAITS),
    ExtensionRange("Porites", "massive", 0.3, 0.869, 1.92, _BOTH),
    ExtensionRange("Porites", None, 0.3, 0.81, 1.92, _TRAITS),
    ExtensionRange("Dipsastraea", None, 0.46, 0.716, 0.82, _BOTH),
    ExtensionRange("Goniastrea", None, 0.45, 0.78, 1.0, _TRAITS),
    ExtensionRange("Platygyra", None, 0.66, 0.74, 1.8, _TRAITS),
    ExtensionRange("Euphyllia", None, 0.5, 1.023, 2.0, f"typical: {_NOAA}; range: {_PRACTICE}"),
    ExtensionRange("Fimbriaphyllia", None, 0.5, 1.023, 2.0, f"typical: {_NOAA}, as Euphyllia; range: {_PRACTICE}"),
    # By form alone: what the genera above span that grow so.
    ExtensionRange("", "branching", 0.89, 3.0, 12.3, _TRAITS),
    ExtensionRange("", "tabling", 2.09, 5.0, 10.45, _TRAITS),
    ExtensionRange("", "corymbose", 0.89, 2.3, 5.89, _TRAITS),
    ExtensionRange("", "digitate", 0.89, 2.3, 5.89, _TRAITS),
    ExtensionRange("", "massive", 0.3, 0.8, 1.92, _TRAITS),
    ExtensionRange("", "columnar", 0.3, 0.9, 2.5, f"{_TRAITS} (Porites); {_PRACTICE}"),
    ExtensionRange("", "encrusting", 0.5, 1.7, 4.0, _PRACTICE),
    ExtensionRange("", "plating", 0.7, 2.5, 5.78, f"{_TRAITS} (Montipora); {_PRACTICE}"),
    ExtensionRange("", "solitary", 0.2, 0.6, 2.0, _PRACTICE),
)


@dataclass(frozen=True, slots=True)
class BulkDensity:
    """Mass of skeleton over the volume it fills with its pores, g/cm³: low, typical and high."""

    genus: str
    form: Form | None
    low: float
    typical: float
    high: float
    source: str


BULK_DENSITIES: tuple[BulkDensity, ...] = (
    BulkDensity("Acropora", "tabling", 1.2, 1.455, 1.7, f"typical: {_NOAA}; spread: {_PRACTICE}"),
    BulkDensity("Acropora", "branching", 0.96, 1.015, 1.5, _BOTH),
    BulkDensity("Acropora", None, 0.96, 1.475, 2.39, _BOTH),
    BulkDensity("Pocillopora", None, 1.21, 1.57, 2.03, _ABOVE),
    BulkDensity("Stylophora", None, 1.35, 1.432, 2.03, _BOTH),
    BulkDensity("Seriatopora", None, 1.3, 1.432, 2.2, f"typical: {_NOAA}; high: {_TRAITS}; low: {_PRACTICE}"),
    BulkDensity("Montipora", "plating", 0.8, 0.94, 1.2, f"typical: {_NOAA}; spread: {_PRACTICE}"),
    BulkDensity("Montipora", None, 0.9, 1.14, 1.5, f"typical: {_NOAA}; spread: {_PRACTICE}"),
    BulkDensity("Porites", None, 1.1, 1.36, 1.61, _TRAITS),
    BulkDensity("Dipsastraea", None, 1.1, 1.43, 1.7, f"typical: {_NOAA}; spread: {_PRACTICE}"),
    BulkDensity("Goniastrea", None, 1.3, 1.5, 1.7, f"high: {_TRAITS}; {_PRACTICE}"),
    BulkDensity("Euphyllia", None, 1.0, 1.3, 1.53, f"high: {_NOAA}; {_PRACTICE}"),
    BulkDensity("", None, 0.95, 1.4, 2.0, f"{_TRAITS}: ten genera, 10th to 90th percentile about"),
)


def published_extension(genus: str, form: Form) -> ExtensionRange:
    """The published range nearest to a genus and form: both, else the genus, else the form."""
    for key in ((genus, form), (genus, None), ("", form)):
        for each in RANGES:
            if (each.genus, each.form) == key:
                return each
    raise KeyError(form)


def published_density(genus: str, form: Form) -> BulkDensity:
    """The published bulk density nearest to a genus and form: both, else the genus, else any coral's."""
    for key in ((genus, form), (genus, None), ("", None)):
        for each in BULK_DENSITIES:
            if (each.genus, each.form) == key:
                return each
    raise KeyError(genus)
