"""Records of origin that leave and enter: making, digest, signature, verifying, taking in.

In: a journal's records, or the bytes of a stranger's file. Out: a document's bytes, what can be proven
of it, or the texts of the files it would become. What comes in is hostile until proven otherwise, and
nothing is ever fetched. Must not know: pages, reckoning, the clock, and how files are written.
"""
