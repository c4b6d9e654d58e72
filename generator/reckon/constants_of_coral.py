"""Numbers of nature about how coral builds its skeleton; tables of rates are in `arrivals.rates`."""

from generator.reckon.constants import Constant

CALCIFICATION_SPREAD_OF_COLONIES = Constant(
    "spread of calcification among colonies of one species and size (standard deviation of the logarithm)",
    0.315,
    "1",
    "Carlot et al. 2022, Ecology & Evolution (hierarchical fit over six species)",
)
LIGHT_TO_DARK_CALCIFICATION = Constant(
    "calcification in light over that in the dark",
    3.0,
    "1",
    "Gattuso, Allemand & Frankignoulle 1999, Am. Zool. 39:160-183 (median; the mean is about 4)",
    "from memory",
)

ALL: tuple[Constant, ...] = (
    CALCIFICATION_SPREAD_OF_COLONIES,
    LIGHT_TO_DARK_CALCIFICATION,
)
