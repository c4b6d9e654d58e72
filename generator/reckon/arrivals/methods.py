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
        "What a newcomer will take",
        "Its calcification by published rates in as many ways as its measures allow: per area seen from above, by "
        "extension and density along its outline, per living surface, per gram of skeleton. Ways that rest on "
        "the same data count as one; the others are put together on a logarithmic scale with the spread between "
        "them, and the spread of colonies among themselves is added. That, times how this system's corals do "
        "against the same rates, is what it takes; two equivalents of alkalinity and a mole of calcium go with each "
        "mole of CaCO3.",
        (*_RATES, "DerSimonian & Laird 1986, Control. Clin. Trials 7:177-188 (from memory)", _GUM),
        (
            "Ways of measuring the same corals differ by at least 35 %.",
            "A rate of another form of the genus is 25 % less sure, of another genus 40 %, of any coral 50 %.",
            "A drained colony is 80 % skeleton by mass (65 to 95 %).",
            "A year since it was measured makes a coral 35 % less sure.",
            "Night calcification is a third of that in light.",
        ),
    ),
    Method(
        "system-factor",
        "How a system does against published rates",
        "The calcification measured in the water over the sum of what its corals would lay down by published "
        "rates. Where it cannot be learned it is taken as 1, give or take a factor of 2.3. Errors of method that "
        "the newcomer and the corals present share, being of one genus and form, cancel.",
        (*_RATES, _GUM),
        ("All that calcifies in the system is in the journal's files.",),
    ),
    Method(
        "change",
        "What a change did to the demand",
        "Beside the drift that goes on anyway, the uptake may step at the moment of every event near: an arrival, a "
        "cutting, a loss. All readings on either side tell all of them at once; what has come of one is the uptake "
        "since less that just before it, less the other events' steps. Where knowing the others would shrink its "
        "variance to a quarter, and a step of the size expected could not be told from none with odds of 9 in 10, it "
        "is said that they cannot be told apart, and when daily readings would.",
        (
            "Durbin & Koopman 2012, Time Series Analysis by State Space Methods, 2nd ed., ch. 4",
            "Marquardt 1970, Technometrics 12:591-612 (variance inflation factor, from memory)",
            _GUM,
        ),
        (
            "Of what came before nothing older than 180 days counts; the story ends after 45 days.",
            "A newcomer's settling, and what other corals grow in that time, count with it.",
        ),
    ),
    Method(
        "change-foreseen",
        "What a change did, with what was foreseen",
        "The same, but the step is believed beforehand to be what was foreseen, as surely as that was known. What was "
        "foreseen counts most at first and less with every reading.",
        ("Durbin & Koopman 2012, Time Series Analysis by State Space Methods, 2nd ed., ch. 4", _GUM),
        (
            "A change matters from the size that the system's file gives (smallest_change); where it gives none, from "
            "a tenth of the demand before it.",
            "A cut of which no mass is written takes half of the coral, a fifth to four fifths.",
        ),
    ),
    Method(
        "shares",
        "Every coral's share",
        "The measured calcification of the system, shared out in proportion to the corals' published rates, so that "
        "the shares add up to what was measured. The interval of a share comes from how unsure its rate is "
        "against those of the others.",
        (*_RATES, _GUM),
        (
            "A coral that nobody measured counts as the middle of those that were.",
            "What stays of a cut coral calcifies by its size to the power 0.88; healing is not counted.",
        ),
    ),
)
