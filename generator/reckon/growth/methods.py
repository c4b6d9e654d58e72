"""How growth, room and light are reckoned, in words."""

from generator.reckon.method import Method

_GUM = "JCGM 100:2008, Guide to the expression of uncertainty in measurement, 5.1 and F.2.2.1"
_THEIL = "Theil 1950; Sen 1968, J. Am. Stat. Assoc. 63:1379-1389"
_GAUSSIAN = "Rasmussen & Williams 2006, Gaussian Processes for Machine Learning, 2.7 and 5.2 (from memory)"
_RATES = "Coral Trait Database 1.1.1: Madin et al. 2016, Sci. Data 3:160017 (CC0); NOAA calcification rates (MIT)"

GROWTH: tuple[Method, ...] = (
    Method(
        "weighed-mass",
        "Mass, drained",
        "The reading of the scale minus the holder, if the coral was weighed with it. A scale with steps of r has a "
        "standard uncertainty of r/(2√3) at each weighing, and √2 times that with a holder. Weighings of one kind on "
        "one day are averaged.",
        (_GUM,),
        ("The coral was drained equally well each time. The water held between its branches is not known.",),
    ),
    Method(
        "buoyant-weight",
        "Dry skeleton from buoyant weight",
        "In water only the skeleton weighs. Dry mass is buoyant mass divided by 1 minus the density of the water "
        "over that of the skeleton. The density of the water comes from salinity and temperature at the weighing, or "
        "else from the last readings in the log before it. The range of published skeleton densities is included as "
        "uncertainty.",
        (
            "Jokiel, Maragos & Franzisket 1978, UNESCO Monogr. Oceanogr. Methodol. 5:529-541 (from memory)",
            "Spencer Davies 1989, Mar. Biol. 101:389-395 (from memory)",
            "Bucher, Harriott & Roberts 1998, J. Exp. Mar. Biol. Ecol. 228:117-136",
            "TEOS-10, by way of gsw",
            _GUM,
        ),
        (
            "Tissue weighs nothing in seawater.",
            "Salinity is measured to 0.5 and temperature to 0.3 °C. Without either in the log: 35 ± 2 and 25 ± 2 °C.",
        ),
    ),
    Method(
        "grown-mass",
        "Total growth",
        "The last mass minus the first, plus the mass of everything cut off in between.",
        (_GUM,),
        ("A frag drained in air is 85 ± 7 % skeleton (common practice, no source).",),
    ),
    Method(
        "growth-rate",
        "How fast it grew",
        "Cuts, breakage and a change of place each begin a new segment. The rate is the change from the first to the "
        "last measurement of each segment over the days between (of the logarithm for %/day, of the mean radius for "
        "cm/year). One rate that varies over time, plus measurement error, explains all measurements. The size of the "
        "error is not known, so the calculation tries several sizes and weights each by how well it fits. The result "
        "says how fast the coral grew, not how fast it will grow.",
        (_GAUSSIAN, _GUM),
        (
            "Current growth is that of the last year, or of the last four measurements if the year has fewer.",
            "Weighings of a living coral repeat to about 2 % (0.25 to 3.5 %) until six or more of them tell. A ruler "
            "repeats to 2 %, or half or twice that (common practice, no source). You can record how far your own "
            "weighings repeat.",
        ),
    ),
    Method(
        "growth-ahead",
        "How fast it will grow",
        "A mass grows with a power of itself, so its growth per day in % falls as it gets larger. The rate also varies "
        "from week to week, so the interval gets wider with every day ahead. Powers from 0.25 to 1 are weighted by how "
        "well they fit the measurements. The radius of a colony is assumed to grow evenly.",
        (
            _GAUSSIAN,
            "Carlot et al. 2022, Ecology & Evolution (calcification and surface: power 0.79 to 0.97)",
            "Kahng, Odle & Wakeman 2024, PeerJ 12:e17037 (surface and mass: power 2/3 to 1)",
            "Dornelas, Madin, Baird & Connolly 2017, Proc. R. Soc. B 284:20170053 (growth and size; from memory)",
            "Pratchett et al. 2015, Oceanogr. Mar. Biol. 53:215-295 (extension is about even; from memory)",
        ),
        (
            "The rate varies by 10, 25 or 40 % around its mean and returns to it within about eight weeks (common "
            "practice, no source).",
            "Nothing is cut, moved or broken.",
        ),
    ),
    Method(
        "doubling-time",
        "Doubling time",
        "ln 2 over the specific growth rate of the next three weeks. Its interval comes from the ends of the rate's "
        "interval.",
        ("definition",),
        (),
    ),
    Method(
        "growth-decline",
        "Slowed growth",
        "A coral that spreads evenly gains less of its mass each day as it grows. Its past is therefore compared on "
        "an even scale: the mean radius, or the cube root of the mass. Every split of its life in two is tried. The "
        "best one counts if the slope after it is lower by more than chance explains at 95 % after so many tries, "
        "and by at least a quarter. The interval of the date covers the splits that explain the measurements nearly "
        "as well.",
        (_THEIL, "Bonferroni's correction"),
        (),
    ),
    Method(
        "published-extension",
        "Published growth",
        "Where a coral's own measurements are not enough, the published range of its genus and form is used.",
        (_RATES,),
        ("Published rates mix methods and places. They are ranges of what is possible.",),
    ),
    Method(
        "size-forecast",
        "Forecast of size",
        "The last size, plus the radial extension on every side for the days since then. The extension is the coral's "
        "own, combined with the published range of its genus and form, each weighted by its precision. It varies over "
        "time, so the interval gets wider.",
        (_GUM,),
        ("Nothing is cut.",),
    ),
    Method(
        "footprint",
        "Footprint and canopy",
        "Seen from above a colony is an ellipse. Its canopy is the half-ellipsoid over it.",
        ("geometry",),
        (),
    ),
    Method(
        "surface-area",
        "Surface of a colony",
        "π ((h + d/2) / 2)² M, with d the root of length times width, and M from 1, flat, to 4, Acropora.",
        ("EPA/600/R-12/029, table 3-2",),
        (),
    ),
    Method(
        "expected-mass",
        "Estimated mass",
        "Footprint times thickness, or canopy times the share of it that is skeleton, times bulk density. Each is a "
        "range by form.",
        ("NOAA calcification rates (bulk densities)", "common practice, no source (thickness and fill)"),
        ("The ranges are independent.", "Tissue, and water that a drained colony holds, lie within the range."),
    ),
    Method(
        "meeting",
        "When neighbours touch",
        "Two colonies are circles with the area of their footprints. Their gap shrinks by both extensions. The dates "
        "are those by which 5, 50 and 95 of 100 such pairs touch. To first order the uncertainty of a date is that "
        "of the gap on it, over the speed at which it closes.",
        (_GUM,),
        (
            "Which way a long colony is turned is not known. Half its length minus half its width counts as "
            "uncertainty.",
        ),
    ),
    Method(
        "place-for-a-colony",
        "Where a colony could go",
        "In every place that is large enough, spots are tried every 2 cm, with the colony unturned and turned. The "
        "best spot is the one for which the fewest corals have to move, and of those the smallest footprint. Places "
        "with enough light and the right flow come first, then those with the least to move. For each coral that has "
        "to move, a free spot is sought with about the light it has (25 % either way) and its flow.",
        ("common practice, no source (safe distances, and how far the light may differ)",),
        (
            "Colonies are circles with the area of their footprints, with the safe gap of the one that reaches "
            "farther.",
            "At most four corals are moved for one. Growth after today is not included.",
            "A colony may not stick out of its tank. That the water ends below the rim is not known here.",
        ),
    ),
    Method(
        "daily-light",
        "Light per day",
        "PAR times the hours of light: µmol/m²/s times 3600 s over a million is mol/m² an hour.",
        ("definition; e.g. Faust & Logan 2018, HortScience 53:1250 (from memory)",),
        ("PAR is even over the photoperiod.",),
    ),
    Method(
        "light-steps",
        "Getting used to more light",
        "The light per day may rise by at most 15 % each week. A coral is used to the light of its first place. It "
        "gets used to more at that pace, and to less in four weeks.",
        ("common practice, no source",),
        (),
    ),
    Method(
        "cutting-plan",
        "How much to cut",
        "The radius a colony may have today so that it stays within its room until the chosen day, even at the fast "
        "end of its growth. Everything outside that circle is cut off. The number of frags comes from that area, "
        "minus what breaks or cannot be used.",
        ("common practice, no source (yield of cutting)", "Carlot et al. 2022 (calcification and size)"),
        ("Mass is spread evenly over the footprint.",),
    ),
)
