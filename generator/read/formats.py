"""The way forward from older formats of journals: names of fields that have changed, and the format's own line.

A name of an older format is read as the field of today, and `corallite tidy` writes that field's name. A change
that names alone cannot tell belongs here too, as a step from one format to the next.
"""

from generator.records.coral import Cutting
from generator.records.log import DismissEntry
from generator.records.settings import Offers
from generator.records.system import System
from generator.records.trade import Given, State, Trade

# Record -> name in format 1 -> the field's name since format 2.
FORMER: dict[type, dict[str, str]] = {
    Cutting: {"pieces": "frags"},
    DismissEntry: {"item": "alert"},
    Given: {"pieces": "frags"},
    Offers: {"pieces_left": "corals_left"},
    State: {"state": "condition"},
    System: {"matters": "smallest_change"},
    Trade: {"states": "checks"},
}
