"""Units: kinds of quantity, the unit table, and numbers that carry their unit.

In: text a keeper wrote, or a number with its unit. Out: a `Quantity` (as written) or an `Estimate`
(as calculated). Must not know: records, files, pages.
"""
