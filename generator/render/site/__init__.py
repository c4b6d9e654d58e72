"""The roof over the pages: the site as a whole, its feeds, its calendar, its preview pictures.

In: pages. Out: every page and file of the site by address. Must not know: how a page is drawn.
"""
