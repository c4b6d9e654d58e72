"""How the water's health and its next readings are reckoned, in words."""

from generator.reckon.method import Method

_GUM = "JCGM 100:2008, Guide to the expression of uncertainty in measurement, 5.1"
_COMPOSITION = "Millero, Feistel, Wright & McDougall 2008, Deep-Sea Res. I 55:50-72"

WATER_HEALTH: tuple[Method, ...] = (
    Method(
        "aragonite-saturation",
        "Aragonite saturation",
        "From alkalinity and pH read within a day of each other, with the salinity, temperature and calcium read "
        "nearest to them, by the published equations of the carbonate system in seawater. Below 1 aragonite "
        "dissolves; the higher, the easier a skeleton is laid down.",
        (
            "Dickson, Sabine & Christian 2007, Guide to best practices for ocean CO2 measurements, ch. 2 and 5",
            "Lueker, Dickson & Keeling 2000, Mar. Chem. 70:105-119; Mucci 1983, Am. J. Sci. 283:780-799",
            _GUM,
        ),
        (
            "Unread salinity is 35 and temperature 25 °C, one unit to either side; unread calcium is the sea's.",
            "A person is called when the whole interval lies under 2 or over 7 (choices of ours).",
        ),
    ),
    Method(
        "normalised-to-35",
        "A salt at a salinity of 35",
        "The sea's salts keep their proportions, so a salt per kilogram goes with salinity. What was read is brought "
        "to a salinity of 35 with the salinity read nearest to it, within a fortnight.",
        (_COMPOSITION, _GUM),
        ("The water is at 25 °C.",),
    ),
    Method(
        "composition",
        "A salt beside the sea's",
        "The salt at a salinity of 35 over what seawater has there.",
        (_COMPOSITION, _GUM),
        (),
    ),
    Method(
        "salt-balance",
        "Salts that are all off together",
        "Three or more salts, each beside the sea's, weighted by how sure each is. When all agree on one factor that "
        "is not 1, the simplest cause is a salinity that was read wrong by that factor.",
        (_COMPOSITION, _GUM),
        (
            "Of itself kept water strays from the sea by about 5 % in calcium, magnesium and potassium and 15 % in "
            "strontium and boron (common practice, no source).",
            "Salts agree when each is within two of its standard errors of the common factor.",
        ),
    ),
    Method(
        "nutrient-ratio",
        "Nitrogen per phosphorus",
        "Nitrate over phosphate read within a week of each other, both in moles. The interval is that of a quotient; "
        "where one was below what the kit sees, only a least or a most is given.",
        (
            "Fieller 1954, J. R. Stat. Soc. B 16:175-185",
            "Wiedenmann et al. 2013, Nat. Clim. Change 3:160-164; Rosset et al. 2017, Mar. Pollut. Bull. 118:180-187",
        ),
        ("A person is called when it is surely over 22 and phosphate surely under 0.3 µmol/L.",),
    ),
    Method(
        "temperature-swing",
        "Temperature swing",
        "The warmest less the coldest reading: of the 24 hours of the last week in which they lie furthest apart, and "
        "of the whole week. The interval is that of the two readings; what was not read may have swung further.",
        (_GUM,),
        ("A person is called at over 2 °C in a day, or more than the whole band in a week (common practice).",),
    ),
    Method(
        "next-test",
        "When to test",
        "How sure a reading will make the uptake is known before it is made: from the readings so far, the kit's error "
        "and the drift of uptake. The first reading after a change is put on the first whole day that tells a "
        "change of that size from none with odds of 9 in 10; the second where the demand is known to 15 % as well.",
        (
            "Durbin & Koopman 2012, Time Series Analysis by State Space Methods, 2nd ed., ch. 4",
            "Gattuso, Allemand & Frankignoulle 1999, Am. Zool. 39:160-183 (day and night, from memory)",
        ),
        (
            "A change is told when it exceeds nought by 1.64 standard errors: 1 in 20 by chance.",
            "Plans are made for events of 15 % of the demand in the last 14 days, and for standing doses changed by as "
            "much in the last 7.",
            "However calm, alkalinity is read again after 7 days, calcium after 14, magnesium after 30, what a "
            "laboratory reads after 90 and the rest after 14; ammonium or nitrite over 0.1 mg/L after 3: common "
            "practice.",
        ),
    ),
)
