"""Water: what went in and out, what the coral takes up, what it will be.

In: a system, its log, its corals, a moment. Out: the findings of `findings.py`, in canonical units
(meq/L, mg/L, psu, °C). Must not know: pages, display units.
"""
