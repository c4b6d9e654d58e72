"""Dosing: how much of the keeper's own solutions holds the water, and what follows from it.

In: a system, its log, what was found about its water, a moment. Out: litres a day of each solution with
intervals, days a stock lasts, grams to mix one, drift of salinity, the water volume that a dose tells.
Must not know: pages, display units, corals.
"""
