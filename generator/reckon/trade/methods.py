"""How trades and travel are calculated, in words."""

from generator.reckon.method import Method

_RANGES = "Ranges of published values span 90 % of cases and count as log-normal."

TRADE: tuple[Method, ...] = (
    Method(
        "accounts",
        "Account with a partner",
        "Pieces given and received are counted: each frag is one piece, and so is a whole coral. Agreed values and "
        "money are added up per currency. Nothing is converted. A promise is open until the day it was kept.",
        (),
        ("The value of an entry covers all its pieces.",),
    ),
    Method(
        "ready-to-offer",
        "Ready to offer",
        "A living coral is checked against each rule: out of quarantine, not being treated and not ailing, healed, "
        "here long enough, long enough across, and enough of its line that stays. The thresholds are in "
        "journal.yaml. Where none is set, common practice applies.",
        (),
        ("A cut heals in two weeks unless its healed date is recorded.",),
    ),
    Method(
        "fit",
        "Fit in a container",
        "The colony counts as an ellipsoid of its three measurements. It is tried in every position, turned flat and "
        "tilted up to 60 degrees, in steps of 2.5. The clearance is the smallest room beyond the padding on any "
        "side.",
        ("Geometry of ellipsoids",),
        ("Few colonies fill the corners of their box. The clearance of the box is shown too.",),
    ),
    Method(
        "lifting",
        "Lifting",
        "The revised NIOSH lifting equation gives the mass that nearly all healthy workers can lift now and then "
        "from the floor to a table. The upper end of container, water and coral together is compared with it. Two "
        "people together lift two thirds of what both could lift alone.",
        (
            "Waters, Putz-Anderson, Garg & Fine 1993, Ergonomics 36:749-776 (from memory)",
            "Health and Safety Executive (UK), Manual handling, guidance on regulations L23 (two people; from memory)",
        ),
        (
            "Hands 20 cm up, and 25 cm plus half the container's width in front of the ankles (20 cm plus half the "
            "width if they are 25 cm up or higher); a lift of 55 cm; a fair grip.",
            "Nobody should lift farther than 63 cm from the ankles, above 175 cm, or turned by more than 135 degrees.",
        ),
    ),
    Method(
        "cooling",
        "Temperature on arrival",
        "The water approaches the air temperature by Newton's law. The time constant comes from the logged trips of "
        "the container by least squares, weighed against what is usual for its surface and water.",
        ("Newton's law of cooling; Incropera & DeWitt, Fundamentals of Heat and Mass Transfer (from memory)",),
        ("The water is mixed on the way.", "Readings are good to 0.2 °C.", _RANGES),
    ),
    Method(
        "oxygen",
        "Hours of oxygen",
        "The water starts at 95 % of what it holds in equilibrium with air. The colony uses oxygen by its surface, "
        "at the rate of coral in the dark, until 2 to 4 mg/L are left. Where corals begin to suffer is a range, and "
        "its width is part of the uncertainty.",
        (
            "Garcia & Gordon 1992, Limnol. Oceanogr. 37:1307-1312",
            "Vaquer-Sunyer & Duarte 2008, PNAS 105:15452 (from memory)",
            "EPA/600/R-12/029, table 3-2 (surface)",
        ),
        ("No oxygen enters from the air above the water.", _RANGES),
    ),
    Method(
        "packing",
        "Packing list",
        "What keepers take along, by hours on the way. Common practice, no source.",
        (),
        (),
    ),
    Method(
        "journey",
        "Journey",
        "Fit, water, lifting, temperature and oxygen of one plan. A change of temperature within 2 °C is a low risk, "
        "beyond 4 °C a high one. Oxygen is a low risk while the trip is shorter than the lower end of its hours.",
        (),
        ("The thresholds are common practice, no source.",),
    ),
    Method(
        "trip-outcomes",
        "How trips went",
        "A trip went badly if a coral or frag was poor or lost within 60 days, and well if it was checked later than "
        "the day of arrival and none was. Conditions are shown by median and range. A few trips prove nothing.",
        (),
        (),
    ),
)
