"""Calculation: records in, findings out.

Pure functions of records and an explicit moment. Must not know: files, HTML, the clock, globals.
"""
