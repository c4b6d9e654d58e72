"""How each number is calculated, in words, for the reader who asks 'why this number'."""

from generator.reckon.arrivals.methods import ARRIVALS
from generator.reckon.dosing.methods import DOSING
from generator.reckon.growth.methods import GROWTH
from generator.reckon.lineage.methods import LINEAGE
from generator.reckon.method import Method
from generator.reckon.trade.methods import TRADE
from generator.reckon.water.health_methods import WATER_HEALTH

_STATE_SPACE = (
    "Durbin & Koopman 2012, Time Series Analysis by State Space Methods, 2nd ed., ch. 4",
    "de Jong & Penzer 1998, J. Am. Stat. Assoc. 93:796-806 (readings and jumps that cannot be explained)",
)
_GUM = "JCGM 100:2008, Guide to the expression of uncertainty in measurement, 5.1"
_ANOMALY = "Smith & Key 1975, Limnol. Oceanogr. 20:493; Chisholm & Gattuso 1991, 36:1232 (alkalinity anomaly)"

METHODS: dict[str, Method] = {
    method.id: method
    for method in (
        Method(
            "ledger",
            "Ledger",
            "Each dissolved quantity is kept like a bank account. Doses, pumps, limewater and reactor effluent add "
            "to it: litres of solution times what a litre contains, by molar masses, over the system's water volume. "
            "A water change replaces a share of the water with the mix. Coral uptake takes out. Every reading checks "
            "the balance.",
            ("Standard atomic weights: Prohaska et al. 2022, Pure Appl. Chem. 94:573-600",),
            (
                "A mix is known to 3 % of what is recorded. New water without a recorded mix is known to 15 % of the "
                "usual level.",
                "A dose or a water change recorded together with a reading came after it.",
                "Limewater holds no more calcium hydroxide than dissolves.",
                "Reactor effluent is compared with the last reading of the water that went into the reactor.",
                "Uptake is what balances the account against the level. After the last reading both are forecast. "
                "Between two readings it is spread evenly.",
            ),
        ),
        Method(
            "uptake",
            "Uptake per day",
            "Between events the level changes by inflow minus uptake. The uptake grows, and drifts like a random "
            "walk. All readings together, each with the error of its kit, give the level and the uptake at every "
            "moment (Kalman filter and smoother, exact at irregular times). How fast uptake drifts, and the error of "
            "a kit without a declared one, are weighed over a range of values by how well each explains the "
            "readings. At arrivals, cuts, losses and changes of light the uptake may change more, by the coral's "
            "share of all footprints.",
            (*_STATE_SPACE, _GUM),
            (
                "Uptake drifts about 3 % of itself per square root of a day, give or take a factor of three, and grows "
                "by up to about 0.3 % a day.",
                "A reading more than 2.5 standard errors from what all others predict is doubtful. It is shown, and "
                "counts with an error so large that it no longer surprises.",
                "The uncertainty of the volume is included by calculating again with one per cent more water.",
                "The lines listed for a number are those of the last 30 days, at least four readings. Older ones count "
                "too, but hardly.",
            ),
        ),
        Method(
            "calcification",
            "Calcification",
            "Calcification takes two equivalents of alkalinity and one mole of calcium for each mole of CaCO3. One "
            "model reads both accounts together. Calcification takes from both. Anything else that moves alkalinity "
            "(nitrate made or used, a drifting kit, an unlogged dose) varies around zero.",
            (*_STATE_SPACE, _ANOMALY, _GUM),
            (
                "Other causes move alkalinity within about 15 % of the uptake (one standard deviation) and fade over "
                "about 30 days.",
            ),
        ),
        Method(
            "unexplained-shift",
            "Unexplained jumps",
            "A level may change between two readings and stay changed, by more than four standard errors beyond "
            "anything in the log. It is then shown with its size. Most often a dose, a spill or new water was not "
            "logged. It takes two readings after it to tell a jump from a wrong reading.",
            _STATE_SPACE,
            (),
        ),
        Method(
            "forecast",
            "Forecast",
            "Today's level and uptake are continued for 30 days with the same model and with every pump, top-off and "
            "reactor as set now. The dates: by then the level has left its band in 5, 50 and 95 of 100 such cases.",
            _STATE_SPACE,
            ("Nothing is dosed by hand and no water is changed in the meantime.",),
        ),
        Method(
            "trend",
            "Trend",
            "The median of the slopes between all pairs of readings (Theil-Sen). A few wild readings hardly move it.",
            ("Theil 1950; Sen 1968, J. Am. Stat. Assoc. 63:1379-1389",),
            ("Over the last 90 days.",),
        ),
        *WATER_HEALTH,
        *GROWTH,
        *ARRIVALS,
        *DOSING,
        *LINEAGE,
        *TRADE,
    )
}
