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
            "habit",
            "Dosing by hand",
            "A solution that was dosed by hand at least four times at regular intervals is a habit. Its interval and "
            "amount are the means of the last twelve doses, without exceptions. The forecast first assumes that this "
            "goes on, as uncertain as intervals and amounts have varied. Beside it stands what happens without further "
            "doses. A dose that is later than that is missed.",
            ("Cox 1962, Renewal Theory, ch. 3 (from memory)",),
            (
                "Intervals that vary by more than half their mean are not regular. One of more than three and a half "
                "times that is an exception, or the end.",
                "A dose is missed when it is late by half an interval, and by two standard deviations of them.",
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
                "The strength of a solution is known to 3 % and what a pump gives to 5 % (one standard deviation), "
                "unless the system's file says otherwise; a pump whose real rate was measured, to 2 %.",
                "Volume, strengths and pumps are as uncertain as stated: the readings do not change that.",
                "Kits may read apart by about 0.3 dKH, 10 mg/L calcium or 40 mg/L magnesium. The first kit counts as "
                "right: with one kit alone all levels may be off by as much.",
                "A new colony settles at once, in 7 days or in 14 days, each equally likely before the readings.",
                "Uptake is never less than nothing for long, and is shown as nothing at least.",
                "The lines listed for a number are those of the last 30 days, at least four readings. Older ones count "
                "too, but hardly.",
            ),
        ),
        Method(
            "rivals",
            "Explanations side by side",
            "Whenever a reading surprises, several explanations are followed side by side: the reading is wrong; the "
            "level jumped without a line in the log; uptake rose, fell or stopped; nothing happened. Each is a "
            "calculation of its own, weighed by how well it predicts every reading after it, until the readings "
            "decide. The interval covers all that are still possible, and the page names those with at least 10 "
            "in 100. The test to make is the earliest one for which the two with the highest odds predict clearly "
            "different readings: another test of the same water settles at once whether a reading was wrong.",
            (
                "Harrison & Stevens 1976, J. R. Stat. Soc. B 38:205-247 (multi-process models; from memory)",
                "West & Harrison 1997, Bayesian Forecasting and Dynamic Models, 2nd ed., ch. 12 (from memory)",
            ),
            (
                "Before a test: 30 readings in a thousand are wrong by about 4 kit errors, 5 more by about 20. A "
                "reading is doubtful from 30 in 100 on.",
                "Before a test: an unlogged jump, of about 10 kit errors, comes once in 170 days.",
                "Before a test: uptake steps once in 22 days. That is more often than it does, so that the first "
                "reading after a step already widens the interval far enough. Of 100 steps 48 are up by about 60 %, "
                "32 down by about 40 %, and 20 are a stop. Within 30 days of a step another is ten times less likely.",
                "No more than 60 explanations are followed at once. Those that come to predict the same are joined.",
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
                "Other causes move alkalinity within about 10 % of the uptake (one standard deviation) and fade over "
                "about 30 days.",
            ),
        ),
        Method(
            "track-record",
            "Track record",
            "Each past reading is predicted again, one, three and seven days ahead, from the readings before it and "
            "the doses, water changes and arrivals in the log. The range includes the kit's own error. A range of 90 % "
            "should hold nine readings in ten. The ninth decile of how far readings strayed, over that of the normal "
            "distribution, says how many times as wide the ranges should be.",
            (
                "Gneiting, Balabdaoui & Raftery 2007, J. R. Stat. Soc. B 69:243-268 (calibration; from memory)",
                "David & Nagaraja 2003, Order Statistics, 3rd ed., 7.1 (interval of a quantile; from memory)",
            ),
            (
                "The first four readings of a quantity find its uptake and are not counted.",
                "A reading counts for a horizon if one was made no more than twice as many days before it.",
                "The scale of the drift is taken from all readings.",
            ),
        ),
        Method(
            "unexplained-shift",
            "Unexplained jumps",
            "A level may change between two readings and stay changed, beyond anything in the log. Where that is "
            "the explanation with the highest odds, it is shown with its size. Most often a dose, a spill "
            "or new water was not logged. It takes another reading to tell a jump from a wrong reading.",
            _STATE_SPACE,
            (),
        ),
        Method(
            "forecast",
            "Forecast",
            "Today's level and uptake are continued for 30 days with the same model and with every pump, top-off and "
            "reactor as set now. The dates: by then the level has left its band in 5, 50 and 95 of 100 such cases.",
            _STATE_SPACE,
            (
                "Nothing is dosed by hand and no water is changed in the meantime.",
                "Below 5 dKH, 250 mg/L calcium or 600 mg/L magnesium uptake slows in proportion to what is left.",
            ),
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
