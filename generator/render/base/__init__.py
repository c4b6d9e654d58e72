"""The base of pages: blocks and what stands in them, words, numbers, links, prose, and the context of a page.

In: words, numbers, records. Out: what pages are told in, and its HTML. Must not know: any page, the site as a whole.
"""
