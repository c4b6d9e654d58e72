"""Pages: one module a kind of page, with the function that tells it in blocks.

In: the context of a page (the view, the findings, the words, its address). Out: a `Page` whose text is final and whose
links are relative. Must not know: HTML, the disk, the clock.
"""
