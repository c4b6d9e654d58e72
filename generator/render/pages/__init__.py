"""Page models: one module a kind of page, with the frozen dataclass its template sees and the function that fills it.

In: a `Desk` (the view, the findings, the words, one page's address). Out: models whose text is final and
whose links are relative. Must not know: HTML, the disk, the clock.
"""
