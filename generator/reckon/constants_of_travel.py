"""Numbers of nature and guidelines about coral on the road: heat, oxygen, lifting."""

from generator.reckon.constants import Constant

_WATERS = "Waters, Putz-Anderson, Garg & Fine 1993, Ergonomics 36:749-776 (revised NIOSH lifting equation)"

LIFTING_LOAD = Constant("load constant of the lifting equation", 23.0, "kg", _WATERS, "from memory")
TEAM_SHARE = Constant(
    "what two people lift together, of the sum of what each can",
    2.0 / 3.0,
    "1",
    "Health and Safety Executive (UK), Manual handling, guidance on regulations L23, team handling",
    "from memory",
)
SEAWATER_HEAT_CAPACITY = Constant(
    "heat capacity of seawater at 25 °C and salinity 35",
    3.999,
    "kJ/kg/K",
    "TEOS-10 (gsw cp_t_exact)",
    "derived",
)
HEAT_TRANSFER = Constant(
    "heat that a container of water passes to still air",
    4.2,
    "W/m²/K",
    "free convection of gases from 2 W/m²/K and radiation of about 6, less with foam around; the range is ours; "
    "Incropera & DeWitt, Fundamentals of Heat and Mass Transfer, table 1.1",
    "from memory",
    low=1.5,
    high=12.0,
)
OXYGEN_MASS = Constant("molar mass of O2", 31.998, "g/mol", "standard atomic weights", "definition")
CORAL_RESPIRATION = Constant(
    "oxygen that coral uses in the dark, per surface",
    0.5,
    "µmol/cm²/h",
    "Davies 1980, Mar. Ecol. Prog. Ser. 2:181; Edmunds & Davies 1986, Mar. Biol. 92:339; Hoegh-Guldberg & Smith "
    "1989, J. Exp. Mar. Biol. Ecol. 129:279; the range over them is ours",
    "from memory",
    low=0.2,
    high=1.2,
)
SURFACE_FROM_SIZE = Constant(
    "factor by which a colony's surface from its measures can be wrong",
    1.4,
    "1",
    "Courtney, Fisher et al. 2007, J. Exp. Mar. Biol. Ecol. 351:234 (size classes 40 %, hemisphere 17 %)",
)
OXYGEN_LIMIT = Constant(
    "oxygen below which corals and other animals of the sea suffer",
    3.0,
    "mg/L",
    "Vaquer-Sunyer & Duarte 2008, PNAS 105:15452; Haas et al. 2014, PeerJ 2:e235 (Acropora at 2 to 4 mg/L); the "
    "middle is ours",
    "from memory",
    low=2.0,
    high=4.0,
)

ALL: tuple[Constant, ...] = (
    LIFTING_LOAD,
    TEAM_SHARE,
    SEAWATER_HEAT_CAPACITY,
    HEAT_TRANSFER,
    OXYGEN_MASS,
    CORAL_RESPIRATION,
    SURFACE_FROM_SIZE,
    OXYGEN_LIMIT,
)
