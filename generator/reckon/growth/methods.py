"""How growth, room and light are reckoned, in words."""

from generator.reckon.method import Method

_GUM = "JCGM 100:2008, Guide to the expression of uncertainty in measurement, 5.1 and F.2.2.1"
_THEIL = "Theil 1950; Sen 1968, J. Am. Stat. Assoc. 63:1379-1389"
_STRATA = "Hirsch, Slack & Smith 1982, Water Resour. Res. 18:107-121 (slopes within blocks; from memory)"
_RATES = "Coral Trait Database 1.1.1: Madin et al. 2016, Sci. Data 3:160017 (CC0); NOAA calcification rates (MIT)"

GROWTH: tuple[Method, ...] = (
    Method(
        "weighed-mass",
        "Mass, drained",
        "What the scale showed, less the holder where the coral was weighed with it. A scale that shows steps of r "
        "is unsure by r/(2√3) at each weighing, so a weighing with its holder by √2 times that. Weighings of "
        "one kind on one day are averaged.",
        (_GUM,),
        ("The coral was drained alike each time; water held between its branches is not known.",),
    ),
    Method(
        "buoyant-weight",
        "Dry skeleton from buoyant weight",
        "In water only the skeleton weighs: dry mass is buoyant mass over 1 less the water's density over the "
        "skeleton's. The water's density comes from salinity and temperature at the weighing, or else from the log's "
        "last readings before it. The range of published skeleton densities is carried as uncertainty.",
        (
            "Jokiel, Maragos & Franzisket 1978, UNESCO Monogr. Oceanogr. Methodol. 5:529-541 (from memory)",
            "Spencer Davies 1989, Mar. Biol. 101:389-395 (from memory)",
            "Bucher, Harriott & Roberts 1998, J. Exp. Mar. Biol. Ecol. 228:117-136",
            "TEOS-10, by way of gsw",
            _GUM,
        ),
        (
            "Tissue weighs nothing in seawater.",
            "Salinity is read to 0.5 and temperature to 0.3 °C; where neither is logged: 35 ± 2 and 25 ± 2 °C.",
        ),
    ),
    Method(
        "grown-mass",
        "Grown in all",
        "The last mass less the first, with the mass of every cutting taken in between added back.",
        (_GUM,),
        ("Of a cutting drained in air 85 ± 7 % is skeleton (common practice, no source).",),
    ),
    Method(
        "growth-rate",
        "Growth rate",
        "Cuts, breakage and a change of place each begin a new segment. The slope is the median of the slopes between "
        "all pairs of measurements within a segment (of the logarithm for %/day, of the mean radius for cm/year), "
        "with Sen's interval, never narrower than what scale or ruler alone leave open.",
        (_THEIL, _STRATA, _GUM),
        (
            "Growth of now is that of the last year, or of the last four measurements where it holds fewer.",
            "A ruler's reading of a living colony repeats to 2 % (common practice, no source).",
        ),
    ),
    Method(
        "growth-two-points",
        "Growth rate from two measurements",
        "Two measurements are all there is: the rate is what lies between them, and its interval what the scale or the "
        "ruler alone leave open.",
        (_GUM,),
        ("The coral grew evenly in between.",),
    ),
    Method(
        "growth-few-points",
        "Growth rate from few measurements",
        "With fewer than four measurements to a segment their scatter gives no interval. The rate is the median of "
        "their slopes, its interval what the slopes span, or what the scale or the ruler leave open if that is more.",
        (_GUM,),
        ("The coral grew evenly in between.",),
    ),
    Method(
        "doubling-time",
        "Doubling time",
        "ln 2 over the specific growth rate; its interval from the ends of the rate's.",
        ("definition",),
        (),
    ),
    Method(
        "growth-decline",
        "Growth that fell",
        "A coral that spreads evenly gains less of its mass each day as it grows, so its past is compared on an even "
        "scale: the mean radius, or the cube root of the mass. Every split of its life in two is tried; the best one "
        "stands if the slope after it is lower by more than chance explains at 95 % after so many tries, and by a "
        "quarter at least. The date's interval holds the splits that explain the measurements nearly as well.",
        (_THEIL, "Bonferroni's correction"),
        (),
    ),
    Method(
        "published-extension",
        "Published growth",
        "Where a coral's own measurements do not tell, the published range of its genus and form stands in.",
        (_RATES,),
        ("Published rates mix methods and places; they are bands of what can be.",),
    ),
    Method(
        "size-forecast",
        "Forecast of size",
        "The last size, with the radial extension added to every side for the days ahead. The extension is the coral's "
        "own, on top of the published range of its genus and form: each weighs by its precision.",
        (_GUM,),
        ("The colony spreads as it has; nothing is cut.",),
    ),
    Method(
        "footprint",
        "Footprint and canopy",
        "Seen from above a colony is an ellipse; its canopy is the half-ellipsoid over it.",
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
        "Mass to expect of a size",
        "Footprint times thickness, or canopy times the share of it that is skeleton, times bulk density; each a "
        "range by form.",
        ("NOAA calcification rates (bulk densities)", "common practice, no source (thickness and fill)"),
        ("The ranges are independent.", "Tissue, and water that a drained colony holds, lie within the range."),
    ),
    Method(
        "meeting",
        "When neighbours meet",
        "Two colonies are circles of their footprints' area. Their gap shrinks by both extensions; the dates are those "
        "by which 5, 50 and 95 of 100 such pairs have met. To first order a day is as unsure as the gap is on it, "
        "over the speed at which it closes.",
        (_GUM,),
        ("Which way a long colony lies is not known: half its length less half its width counts as uncertainty.",),
    ),
    Method(
        "place-for-a-colony",
        "Where a colony could go",
        "In every place that is large enough, its spots are tried every 2 cm, the colony unturned and turned: the best "
        "is that for which the fewest corals must move, and of those the least in footprint. First come places whose "
        "light overlaps what it wants and whose flow is that; then what moves least. For each that must move, a free "
        "spot is sought with about the light it has (25 % either way) and its flow.",
        ("common practice, no source (safe distances, and how far the light may differ)",),
        (
            "Colonies are circles of their footprints' area, with the safe distance of the one that reaches farther.",
            "At most four corals are moved for one; growth after today is not in it.",
            "A colony may not stand out of its vessel; that water ends below the rim is not known here.",
        ),
    ),
    Method(
        "daily-light",
        "Light of a day",
        "PAR times the hours of light: µmol/m²/s times 3600 s over a million is mol/m² an hour.",
        ("definition; e.g. Faust & Logan 2018, HortScience 53:1250 (from memory)",),
        ("PAR is even over the photoperiod.",),
    ),
    Method(
        "light-steps",
        "Getting used to more light",
        "Each week the light of a day may rise by 15 % at most. A coral is used to the light of its first place; to "
        "more it gets used at that pace, to less in four weeks.",
        ("common practice, no source",),
        (),
    ),
    Method(
        "cutting-plan",
        "How much to cut",
        "The radius a colony may have today so that, at the fast end of its growth, it stays within its room to the "
        "day wanted. What lies outside that circle is to be removed; pieces are reckoned from its area, less what "
        "breaks or cannot be used.",
        ("common practice, no source (yield of cutting)", "Carlot et al. 2022 (calcification and size)"),
        ("Mass lies evenly under the footprint.",),
    ),
)
