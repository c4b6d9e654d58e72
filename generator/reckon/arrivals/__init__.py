"""Arrivals: what a newcomer will take up, what it did, and every coral's share of the uptake.

In: a colony or coral as far as it is known, the system's measured calcification, a day. Out: grams of
CaCO3 a day, the alkalinity and calcium it means, shares of the demand, all with intervals. Must not
know: pages, display units, log files.
"""
