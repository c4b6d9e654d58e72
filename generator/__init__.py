"""Corallite: from a reef keeper's plain files to a browsable site with real numbers.

Data flows one way: read -> reckon -> render -> publish. Each room's docstring says what comes in,
what goes out and what it must not know; tests/test_house.py holds the arrows.
"""

__version__ = "0.1.0"
