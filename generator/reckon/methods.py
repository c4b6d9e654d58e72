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
            "The ledger",
            "Each dissolved quantity is kept like an account. Doses, pumps, limewater and reactor effluent pay in: "
            "litres of solution times what a litre holds, by molar masses, over the system's water volume. A water "
            "change replaces a share of the water by the mix. The coral draws out. A reading checks the balance.",
            ("Standard atomic weights: Prohaska et al. 2022, Pure Appl. Chem. 94:573-600",),
            (
                "A mix is known to 3 % of what is written; new water without a mix to 15 % of the usual level.",
                "A dose or a water change written with a reading came after it.",
                "Limewater holds no more calcium hydroxide than dissolves.",
                "A reactor's effluent is counted against the last reading of the water it was drawn from.",
                "What was taken up is what balances the account against the level; after the last reading both are as "
                "forecast. Between two readings it is spread evenly.",
            ),
        ),
        Method(
            "uptake",
            "Uptake per day",
            "Between events the level changes by inflow less uptake; the uptake grows, and drifts like a random walk. "
            "All readings together, each with its kit's error, tell the level and the uptake at every moment (Kalman "
            "filter and smoother, exact at irregular times). How fast uptake drifts, and a kit error nobody declared, "
            "are weighed over a range of values by how well each explains the readings. Arrivals, cuttings, losses "
            "and changes of light open the uptake to change by the coral's share of all footprints.",
            (*_STATE_SPACE, _GUM),
            (
                "Uptake drifts about 3 % of the demand per square root of a day, give or take a factor of three, and "
                "grows by up to some 0.3 % of it a day.",
                "A reading more than 2.5 standard errors from what all others lead to expect is doubtful: it is "
                "given the error that makes it unsurprising, and shown.",
                "The volume's uncertainty is carried by reckoning again with one per cent more water.",
                "The lines named behind the figure are those of the last 30 days, four readings at least; older ones "
                "count as well, but hardly.",
            ),
        ),
        Method(
            "calcification",
            "Calcification",
            "Calcification takes two equivalents of alkalinity and one mole of calcium for each mole of CaCO3. One "
            "model reads both accounts at once: calcification draws on both, and whatever else moves alkalinity "
            "(nitrate made or used, a kit that drifts, a dose nobody logged) wanders about zero beside it.",
            (*_STATE_SPACE, _ANOMALY, _GUM),
            (
                "What else moves alkalinity stays within about 15 % of the demand (one standard deviation) and "
                "forgets itself over about 30 days.",
            ),
        ),
        Method(
            "unexplained-shift",
            "Shifts nobody logged",
            "A level that changes between two readings and stays changed, beyond four standard errors of anything "
            "the log tells, is shown with its size: most often a dose, a spill or new water that was not written "
            "down. It takes two readings after it to tell a shift from a wrong reading.",
            _STATE_SPACE,
            (),
        ),
        Method(
            "forecast",
            "Forecast",
            "Today's level and uptake are carried forward with every pump, top-off and reactor as it stands, by the "
            "same model, for 30 days. The dates: 5, 50 and 95 in 100 such futures have left the band.",
            _STATE_SPACE,
            ("Nothing is dosed by hand and no water is changed in the meantime.",),
        ),
        Method(
            "trend",
            "Trend",
            "The median of the slopes between all pairs of readings (Theil-Sen): a few wild readings hardly move it.",
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
