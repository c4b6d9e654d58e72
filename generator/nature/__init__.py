"""Facts of nature and method, as data: what a marine biologist can read and mend without Python.

In: the YAML tables beside this file. Out: constants, rates, genera, safe distances and methods, checked once.
Must not know journals, calculations or pages. Every value is pinned by a test against its published source.
"""
