"""Checks against the world outside: published tables, certified values, reference libraries.

Each YAML file holds checks: what is reckoned, from what, the value expected, how near, from which
source, and how that value is known:

- read: seen in the source itself, or in a public file that quotes it
- computed: worked out from the definition or with the library named, not copied from us
- from memory: a real source that was not opened; to be verified before it is quoted to a reader
- from memory, reproduced: remembered, and an independent computation gave the same
"""
