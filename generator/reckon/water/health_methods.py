"""How the water's health and its next readings are reckoned, in words."""

from generator.reckon.method import Method

_GUM = "JCGM 100:2008, Guide to the expression of uncertainty in measurement, 5.1"
_COMPOSITION = "Millero, Feistel, Wright & McDougall 2008, Deep-Sea Res. I 55:50-72"

WATER_HEALTH: tuple[Method, ...] = (
    Method(
        "aragonite-saturation",
        "Aragonite saturation",
        "From alkalinity and pH tested within a day of each other, with the nearest readings of salinity, "
        "temperature and calcium, by the published equations of the carbonate system in seawater. Below 1 aragonite "
        "dissolves. The higher it is, the easier it is to build skeleton.",
        (
            "Dickson, Sabine & Christian 2007, Guide to best practices for ocean CO2 measurements, ch. 2 and 5",
            "Lueker, Dickson & Keeling 2000, Mar. Chem. 70:105-119; Mucci 1983, Am. J. Sci. 283:780-799",
            _GUM,
        ),
        (
            "Without a reading, salinity is 35 and temperature 25 °C, each with a standard uncertainty of one unit, "
            "and calcium is that of seawater.",
            "A card appears when the whole interval is under 2 or over 7 (our choice).",
        ),
    ),
    Method(
        "normalised-to-35",
        "A salt at salinity 35",
        "The salts of seawater keep their proportions, so a salt per kilogram rises and falls with salinity. The "
        "reading is adjusted to salinity 35 with the nearest salinity reading within a fortnight.",
        (_COMPOSITION, _GUM),
        ("The water is at 25 °C.",),
    ),
    Method(
        "composition",
        "A salt compared with seawater",
        "The salt at salinity 35, divided by what seawater contains.",
        (_COMPOSITION, _GUM),
        (),
    ),
    Method(
        "salt-balance",
        "Salts that are all off together",
        "Three or more salts, each compared with seawater, weighted by how certain each is. If all agree on one "
        "factor that is not 1, the simplest cause is a salinity reading that is off by that factor.",
        (_COMPOSITION, _GUM),
        (
            "Aquarium water differs from the sea by about 5 % in calcium, magnesium and potassium and 15 % in "
            "strontium and boron (common practice, no source).",
            "Salts agree when each is within two of its standard errors of the common factor.",
        ),
    ),
    Method(
        "nutrient-ratio",
        "Nitrogen per phosphorus",
        "Nitrate over phosphate, tested within a week of each other, both in moles. The interval is that of a "
        "quotient. Where one was below what the kit can detect, only a lower or an upper limit is given.",
        (
            "Fieller 1954, J. R. Stat. Soc. B 16:175-185",
            "Wiedenmann et al. 2013, Nat. Clim. Change 3:160-164; Rosset et al. 2017, Mar. Pollut. Bull. 118:180-187",
        ),
        ("A card appears when it is surely over 22 and phosphate surely under 0.3 µmol/L.",),
    ),
    Method(
        "temperature-swing",
        "Temperature swing",
        "The warmest minus the coldest reading, for the 24 hours of the last week with the largest difference, and "
        "for the whole week. The interval is that of the two readings. Between readings it may have swung further.",
        (_GUM,),
        ("A card appears at over 2 °C in a day, or more than the whole band in a week (common practice).",),
    ),
    Method(
        "next-test",
        "When to test",
        "How certain a test will make the uptake is known before the test: from the readings so far, the error of "
        "the kit and the drift of uptake. The first test after a change is planned for the first whole day on which "
        "it detects a change of that size 9 times in 10. The second is planned for when the uptake is also known to "
        "15 %.",
        (
            "Durbin & Koopman 2012, Time Series Analysis by State Space Methods, 2nd ed., ch. 4",
            "Gattuso, Allemand & Frankignoulle 1999, Am. Zool. 39:160-183 (day and night, from memory)",
        ),
        (
            "A change is detected when it is 1.64 standard errors above zero: 1 in 20 by chance.",
            "Plans are made for events of 15 % of the uptake in the last 14 days, and for daily doses changed by as "
            "much in the last 7.",
            "Even when nothing happens, alkalinity is due after 7 days, calcium after 14, magnesium after 30, "
            "laboratory tests after 90 and the rest after 14; ammonium or nitrite over 0.1 mg/L after 3 (common "
            "practice).",
        ),
    ),
)
