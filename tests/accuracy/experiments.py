"""All experiments by name; a new one is one line here."""

from tests.accuracy.closed_loop import closed_loop
from tests.accuracy.experiment import Experiment
from tests.accuracy.growth import growth
from tests.accuracy.habits import going_on
from tests.accuracy.priors import priors
from tests.reckon.dosing.weeks import weeks_by_plan

EXPERIMENTS: dict[str, Experiment] = {
    "closed loop": closed_loop,
    "going on": going_on,
    "growth": growth,
    "priors": priors,
    "weeks by plan": weeks_by_plan,
}
