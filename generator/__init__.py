"""Corallite: from a reef keeper's plain files to a browsable site with real numbers.

Data flows one way: read -> reckon -> render -> publish. Each room's docstring says what comes in,
what goes out and what it must not know; tests/test_house.py holds the arrows.
"""

import os

# The matrices of the estimates are small: linear algebra on several threads only makes them wait for each other, and
# rounds by the number of cores. Before anything imports numpy.
os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
# Nobody's plugins belong into the checks of records, and looking for them opens every installed package.
os.environ.setdefault("PYDANTIC_DISABLE_PLUGINS", "__all__")

__version__ = "0.1.0"
