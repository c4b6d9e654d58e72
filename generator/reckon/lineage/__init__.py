"""Lineage: what was cut from what, which lines one loss would end, how many arrivals survive.

In: corals, trades, a day. Out: each line's tree, the lines at risk, curves of survival. Must not know:
pages, water.
"""
