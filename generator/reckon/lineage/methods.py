"""How survival is calculated, in words."""

from generator.reckon.method import Method

LINEAGE: tuple[Method, ...] = (
    Method(
        "survival",
        "Survival of arrivals",
        "Each loss lowers the curve by its share of the corals still watched on that day (Kaplan-Meier). A coral that "
        "was given away, or is still here, is watched until then and no further. The interval is Greenwood's, on the "
        "scale of log(-log) so that it stays between 0 and 100 %; where none was lost, or none is left, the exact one.",
        (
            "Kaplan & Meier 1958, J. Am. Stat. Assoc. 53:457-481",
            "Greenwood 1926; Kalbfleisch & Prentice 1980 (log-log interval; from memory)",
            "Clopper & Pearson 1934, Biometrika 26:404-413 (exact interval; from memory)",
        ),
        (
            "Corals that left fared as those that stayed.",
            "A group of fewer than five arrivals is not reckoned.",
        ),
    ),
    Method(
        "lines-at-risk",
        "Lines that one loss would end",
        "A line is every living piece cut from one origin. It is at risk where one piece is all there is of it here, "
        "or where all its pieces stand in one water. The hardest to replace come first: those of which the fewest "
        "partners hold a piece, then one piece before one water, then wild origin, then the longest kept.",
        ("A count of what is written; nothing is estimated.",),
        ("A partner who got a piece from us, or gave us ours, still has one.",),
    ),
)
