"""The data for other tools. Each column is defined once, for CSV, SQLite, Data Package, DataFrame and data page.

In: a view, its findings and how numbers are shown. Out: rows of typed cells, and files as bytes. Must not know: the
keeper's files, pages, pandas.
"""
