"""How survival is calculated, in words."""

from generator.reckon.method import Method

LINEAGE: tuple[Method, ...] = (
    Method(
        "survival",
        "Survival of arrivals",
        "Each loss lowers the curve by its share of the corals still followed on that day (Kaplan-Meier). A coral "
        "that was given away, or is still here, is followed until then. The interval is Greenwood's, on the scale of "
        "log(-log) so that it stays between 0 and 100 %. Where none was lost, or none is left, it is the exact one.",
        (
            "Kaplan & Meier 1958, J. Am. Stat. Assoc. 53:457-481",
            "Greenwood 1926; Kalbfleisch & Prentice 1980 (log-log interval; from memory)",
            "Clopper & Pearson 1934, Biometrika 26:404-413 (exact interval; from memory)",
        ),
        (
            "Corals that left did as well as those that stayed.",
            "A group of fewer than five arrivals is not calculated.",
        ),
    ),
    Method(
        "lines-at-risk",
        "Lines that one loss would end",
        "A line is one original coral and every living frag of it. It is at risk when only one is left here, or when "
        "all are in one system. The hardest to replace come first: those that the fewest partners have, then the "
        "last one before one system, then wild origin, then the longest kept.",
        ("A count of what is recorded; nothing is estimated.",),
        ("A partner who got a frag from us, or gave us ours, still has one.",),
    ),
)
