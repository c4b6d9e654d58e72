"""How doses, stocks, salinity drift and the water volume are reckoned, in words."""

from generator.reckon.method import Method

_GUM = "JCGM 100:2008, Guide to the expression of uncertainty in measurement, 5.1"
_WEIGHTS = "Standard atomic weights: Prohaska et al. 2022, Pure Appl. Chem. 94:573-600"

DOSING: tuple[Method, ...] = (
    Method(
        "dosing",
        "What to dose",
        "The measured demand of alkalinity, and of calcium by the calcification that alkalinity and calcium tell "
        "together, is met by what is at hand: limewater as far as evaporation allows, then the reactor, then the "
        "fewest solutions that meet the rest (least squares, none negative). A level off its target is brought "
        "there first, over as many days as the daily cap asks. The doses' interval comes of the demand's. The "
        "plan says for how long the level stays in its band with odds of 39 in 40, what the solutions leave of the "
        "need counted, and no plan is made where the readings could not vouch for two days.",
        (_WEIGHTS, "Lawson & Hanson 1974, Solving Least Squares Problems, ch. 23 (from memory)", _GUM),
        (
            "No more than 1 dKH, 20 mg/L of calcium or 100 mg/L of magnesium a day (common practice, no source).",
            "A level within a tenth of its band of the target is left there.",
            "What is at hand may take up to 14 days for a correction that the cap would allow sooner; what it cannot "
            "give by then is not planned.",
            "A reactor stays as it runs; where no pump gives alkalinity it may run at up to 1.25 times its flow.",
            "Saturated limewater holds 1.60 to 1.73 g/L.",
        ),
    ),
    Method(
        "stock",
        "Stocks",
        "A stock lasts for what is left of it over what its pump takes out a day. Grams for a stock follow from molar "
        "masses, water of crystals included; nothing is mixed stronger than nine tenths of what dissolves at 20 °C.",
        (_WEIGHTS, "CRC Handbook of Chemistry and Physics (solubilities; from memory)"),
        (),
    ),
    Method(
        "salinity-drift",
        "Salinity from dosing",
        "What a dose leaves once the coral has taken its alkalinity and its metal: sodium from one part, chloride "
        "from the other, 58.4 g of NaCl for each equivalent. Limewater leaves nothing.",
        (_WEIGHTS,),
        (
            "Evaporation is made up with fresh water; skimming and water changes are not counted.",
            "A solution of declared strength is sodium's salts and chlorides.",
        ),
    ),
    Method(
        "water-change",
        "Effect of a water change",
        "A share f of the water is replaced by the mix: what was there counts 1 - f, the mix f.",
        ("Conservation of mass",),
        ("A mix is known to 3 % of what is written.",),
    ),
    Method(
        "volume-by-dose",
        "Water volume by dose",
        "A known dose raises the level by its amount over the water's volume. The readings before and after it, and "
        "what the corals took between them, give the volume; the uncertainty of each is carried to it. Several doses "
        "are put together by the weight of their evidence.",
        (_GUM,),
        (
            "A dose is known to 3 % (measure and strength).",
            "Readings up to a day and a half before and after count; water is mixed after half an hour.",
        ),
    ),
)
