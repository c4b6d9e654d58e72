"""How the uptake of a newcomer and the share of every coral are reckoned, in words."""

from generator.reckon.method import Method

_GUM = "JCGM 100:2008, Guide to the expression of uncertainty in measurement, 5.1 and 5.2"
_RATES = (
    "Courtney et al. 2024 (calcification per planar area, Indo-Pacific)",
    "Perry et al. 2018, ReefBudget methodology, rates of the Indo-Pacific v1.3 (extension and density)",
    "Carlot et al. 2022, Ecology & Evolution (calcification against surface, six species)",
    "Weighings under water over 58 days: data at Zenodo 10.5281/zenodo.13892967",
    "Álvarez-Noriega et al., Kelso Reef 2021 (growth of fragments in tanks)",
    "EPA/600/R-12/029, table 3-2 (surface of a colony from three measures)",
    "Kahng, Odle & Wakeman 2024, PeerJ 12:e17037 (geometry of growth)",
)

ARRIVALS: tuple[Method, ...] = (
    Method(
        "expected-uptake",
        "Predicted uptake of an arrival",
        "Its calcification by published rates, by as many methods as its measurements allow: per area seen from "
        "above, by extension and density along its outline, per living surface, per gram of skeleton. Methods that "
        "use the same data count as one. The others are combined on a logarithmic scale with the spread between "
        "them, and the spread between colonies is added. The interval always includes every rate published for the "
        "coral's own genus. That, times how this system's corals compare with the same rates, is its uptake. Each mole "
        "of CaCO3 takes two equivalents of alkalinity and a mole of calcium.",
        (*_RATES, "DerSimonian & Laird 1986, Control. Clin. Trials 7:177-188 (from memory)", _GUM),
        (
            "Methods of measuring the same corals differ by at least 35 %.",
            "A rate of another form of the genus is 25 % less certain, of another genus 40 %, of any coral 50 %.",
            "A drained colony is 80 % skeleton by mass (65 to 95 %).",
            "Each year since it was measured makes a coral 35 % less certain.",
            "Night calcification is a third of that in light.",
        ),
    ),
    Method(
        "system-factor",
        "How a system compares with published rates",
        "The calcification measured in the water, divided by the sum of what its corals would build by published "
        "rates. Where it cannot be learned it is 1, give or take a factor of 2.3. Errors of method that the arrival "
        "and the corals here share, being of one genus and form, cancel out.",
        (*_RATES, _GUM),
        ("Everything that calcifies in the system is in the journal's files.",),
    ),
    Method(
        "change",
        "What a change did to the uptake",
        "Besides its usual drift, the uptake may step at every event nearby: an arrival, a cut, a loss. All readings "
        "before and after give all the steps together. The effect of one is the uptake since, minus the uptake just "
        "before, minus the steps of the other events. Sometimes knowing the others would shrink its variance to a "
        "quarter, and a step of the predicted size could not be distinguished from none 9 times in 10. The page then "
        "says that they cannot be separated, and when daily tests could.",
        (
            "Durbin & Koopman 2012, Time Series Analysis by State Space Methods, 2nd ed., ch. 4",
            "Marquardt 1970, Technometrics 12:591-612 (variance inflation factor, from memory)",
            _GUM,
        ),
        (
            "Nothing older than 180 days before counts. The report ends after 45 days.",
            "The settling in of an arrival, and the growth of other corals in that time, are included.",
        ),
    ),
    Method(
        "change-predicted",
        "What a change did, with the prediction",
        "The same, but it starts from the predicted step, with the uncertainty of that prediction. The prediction "
        "counts most at first, and less with every reading.",
        ("Durbin & Koopman 2012, Time Series Analysis by State Space Methods, 2nd ed., ch. 4", _GUM),
        (
            "A change matters from the size set in the system's file (smallest_change). By default it is a tenth of "
            "the uptake before.",
            "A cut without a recorded mass takes half of the coral, between a fifth and four fifths.",
        ),
    ),
    Method(
        "shares",
        "Uptake by coral",
        "The measured calcification of the system, divided in proportion to the corals' published rates, so that the "
        "shares add up to the measured total. The interval of a share shows how uncertain its rate is compared with "
        "those of the others.",
        (*_RATES, _GUM),
        (
            "A coral that nobody measured counts as the average of those that were.",
            "What remains of a cut coral calcifies by its size to the power 0.88. Healing is not included.",
        ),
    ),
)
