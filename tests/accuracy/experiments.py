"""All experiments by name; a new one is one line here."""

from tests.accuracy.closed_loop import closed_loop
from tests.accuracy.experiment import Experiment
from tests.accuracy.growth import growth
from tests.accuracy.habits import going_on
from tests.accuracy.kits import kits
from tests.accuracy.mistakes import mistakes
from tests.accuracy.priors import priors
from tests.accuracy.pumps import pumps
from tests.accuracy.volume import volume_by_dose
from tests.accuracy.water import arrivals, deliveries, steady, unlogged
from tests.reckon.dosing.weeks import weeks_by_plan

EXPERIMENTS: dict[str, Experiment] = {
    "arrivals": arrivals,
    "closed loop": closed_loop,
    "deliveries": deliveries,
    "going on": going_on,
    "growth": growth,
    "kits": kits,
    "mistakes": mistakes,
    "priors": priors,
    "pumps": pumps,
    "steady": steady,
    "unlogged": unlogged,
    "volume": volume_by_dose,
    "weeks by plan": weeks_by_plan,
}
