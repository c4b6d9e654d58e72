"""The roof of the calculations: everything that is found in a journal at a moment.

In: a journal and a moment. Out: all findings, and how earlier predictions held.
Must not know pages, words, or what needs the keeper.
"""
