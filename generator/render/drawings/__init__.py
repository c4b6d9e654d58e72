"""Drawings: plain coordinates in, SVG text out.

No style attributes: the look is in the stylesheet, by class. Must not know: records, findings, files.
"""
