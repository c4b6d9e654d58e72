"""Records of origin: making, digest, signature, verifying, taking in.

In: a journal's records, or the bytes of a stranger's file. Out: a document's bytes, what it proves, or the
texts of the files it becomes. What comes in is hostile until proven otherwise, and nothing is ever fetched.
Must not know: pages, calculation, the clock, and how files are written.
"""
