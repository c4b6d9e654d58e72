"""How doses, stocks, salinity drift and the water volume are reckoned, in words."""

from generator.reckon.method import Method

_GUM = "JCGM 100:2008, Guide to the expression of uncertainty in measurement, 5.1"
_WEIGHTS = "Standard atomic weights: Prohaska et al. 2022, Pure Appl. Chem. 94:573-600"

DOSING: tuple[Method, ...] = (
    Method(
        "dosing",
        "What to dose",
        "The uptake of alkalinity, and of calcium by the calcification that both show, is covered by what is "
        "available: limewater as far as evaporation allows, then the reactor, then the fewest solutions that cover the "
        "rest (least squares, none negative), or water changes where nothing else provides alkalinity. A level off its "
        "target is brought there first, over as many days as the daily cap requires. Where the readings leave the "
        "uptake open, only so much is dosed as keeps the level below the top of its band for two days, 19 times in 20, "
        "down to the low end of the uptake's range. Where they do not show it at all, the doses stay as they are. In "
        "no case that is still possible does a level rise faster than the cap, or rise at all above its band. A level "
        "above its band that the coral does not lower within two days is lowered by water changes. The plan says for "
        "how long the level stays in its band 39 times in 40, including what stays uncovered, and when to test next.",
        (_WEIGHTS, "Lawson & Hanson 1974, Solving Least Squares Problems, ch. 23 (from memory)", _GUM),
        (
            "No more than 1 dKH, 20 mg/L of calcium or 100 mg/L of magnesium a day (common practice, no source).",
            "A level within a tenth of its band of the target stays there.",
            "A correction that the cap would allow sooner may take up to 14 days with what is available. What cannot "
            "be corrected by then is not planned.",
            "A reactor stays as it is set. Where no pump doses alkalinity it may run at up to 1.25 times its flow.",
            "No more than a quarter of the water is changed at once, and no more than once a day (common practice, no "
            "source).",
            "A solution is dosed by hand at the keeper's own intervals, but never so much at once that a level rises "
            "by more than the daily cap.",
            "A reactor's effluent weakens with a higher flow: it reads between what it did and the value at which it "
            "provides no more than before.",
            "The strength of a solution is known to 3 % and what a pump delivers to 5 % (common practice, no source). "
            "Neither counts for what runs now: the uptake was measured with it.",
            "Saturated limewater contains 1.60 to 1.73 g/L.",
        ),
    ),
    Method(
        "stock",
        "Stocks",
        "A stock lasts for what is left of it, divided by what its pump takes out a day. The grams for a stock "
        "follow from molar masses, including crystal water. Nothing is mixed stronger than nine tenths of what "
        "dissolves at 20 °C.",
        (_WEIGHTS, "CRC Handbook of Chemistry and Physics (solubilities; from memory)"),
        (),
    ),
    Method(
        "salinity-drift",
        "Salinity rise from two-part",
        "What a dose leaves once the coral has taken its alkalinity and its metal: sodium from one part, chloride "
        "from the other, 58.4 g of NaCl for each equivalent. Limewater leaves nothing.",
        (_WEIGHTS,),
        (
            "Evaporation is replaced with fresh water. Skimming and water changes are not included.",
            "A solution of declared strength consists of sodium salts and chlorides.",
        ),
    ),
    Method(
        "water-change",
        "Effect of a water change",
        "A share f of the water is replaced by the mix: the old water counts 1 - f, the mix f.",
        ("Conservation of mass",),
        ("A mix is known to 3 % of what is recorded.",),
    ),
    Method(
        "volume-by-dose",
        "Water volume, from doses",
        "A known dose raises the level by its amount over the water volume. The readings before and after it, and "
        "the coral uptake in between, give the volume, with the uncertainty of each. Several doses are combined, "
        "each weighted by its evidence.",
        (_GUM,),
        (
            "A dose is known to 3 % (amount and strength).",
            "Readings up to a day and a half before and after count. Water is mixed after half an hour.",
        ),
    ),
)
