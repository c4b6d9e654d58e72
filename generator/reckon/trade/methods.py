"""How trades and travel are calculated, in words."""

from generator.reckon.method import Method

_RANGES = "Ranges of published values span 90 % of cases and count as log-normal."

TRADE: tuple[Method, ...] = (
    Method(
        "accounts",
        "Account with a partner",
        "Pieces given and received are counted, a whole coral as one. Agreed worth and money are summed in each "
        "currency by itself; nothing is converted. A promise is owed until the day it was settled.",
        (),
        ("The worth of an entry is that of all its pieces together.",),
    ),
    Method(
        "ready-to-offer",
        "Ready to offer",
        "A living coral is held against each rule on its own: out of quarantine, neither treated nor ailing, healed, "
        "here long enough, long enough across, and enough of its line that stays. The thresholds stand in "
        "journal.yaml; where none is written, common practice is taken.",
        (),
        ("A cutting heals in two weeks unless its day of healing is written.",),
    ),
    Method(
        "fit",
        "Fit in a container",
        "The colony is taken as an ellipsoid of its three measures and tried in every pose, turned in the plane and "
        "tilted to 60 degrees, in steps of 2.5. The clearance is the least room beyond the padding on any side.",
        ("Geometry of ellipsoids",),
        ("Few colonies fill the corners of their box; the clearance of the box is told beside it.",),
    ),
    Method(
        "lifting",
        "Lifting",
        "The revised NIOSH lifting equation gives the mass that nearly all healthy workers can lift now and then "
        "from the floor to a table. Container, water and coral together are held against it by their upper end.",
        ("Waters, Putz-Anderson, Garg & Fine 1993, Ergonomics 36:749-776 (from memory)",),
        ("Hands at half the container's width before the body and 20 cm up; a rise of 55 cm; a fair grip.",),
    ),
    Method(
        "cooling",
        "Temperature on arrival",
        "The water nears the air's temperature by Newton's law. The time constant comes from the logged trips of the "
        "container by least squares, weighed against what is usual for its surface and its water.",
        ("Newton's law of cooling; Incropera & DeWitt, Fundamentals of Heat and Mass Transfer (from memory)",),
        ("The water is mixed on the road.", "Readings are good to 0.2 °C.", _RANGES),
    ),
    Method(
        "oxygen",
        "Hours of oxygen",
        "The water begins at 95 % of what it holds in equilibrium with air. The colony takes oxygen by its surface at "
        "the rate of coral in the dark, until 2 mg/L are left.",
        (
            "Garcia & Gordon 1992, Limnol. Oceanogr. 37:1307-1312",
            "Vaquer-Sunyer & Duarte 2008, PNAS 105:15452 (from memory)",
            "EPA/600/R-12/029, table 3-2 (surface)",
        ),
        ("No oxygen comes back from the air above the water.", _RANGES),
    ),
    Method(
        "packing",
        "Packing list",
        "What keepers take along, by the hours on the road. Common practice, no source.",
        (),
        (),
    ),
    Method(
        "journey",
        "Journey",
        "Fit, water, lifting, temperature and oxygen of one plan. A change of temperature within 2 °C is a low risk, "
        "beyond 4 °C a high one; oxygen is a low risk while the trip is shorter than the lower end of its hours.",
        (),
        ("The thresholds are common practice, no source.",),
    ),
    Method(
        "trip-outcomes",
        "How trips went",
        "A trip went badly when a piece was poor or lost within 60 days, well when it was looked at later than the "
        "day of arrival and none was. Conditions are shown by median and range; a few trips prove nothing.",
        (),
        (),
    ),
)
