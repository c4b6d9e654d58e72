"""Simulated systems and whole journals whose truth is known, for tests, the benchmark and the demo.

In: a seed and sizes. Out: files as a keeper would write them, and beside them what was really so:
uptake, levels, what never got into the log. Must not know: how any estimate is reckoned, so that it
can judge the estimates. `water` makes one system's water as plain arrays.
"""
