"""Lineage: what came from what, which lines hang by a thread, how arrivals fare.

In: corals, trades, a day. Out: each line's tree, the lines at risk, curves of survival. Must not know:
pages, water.
"""
