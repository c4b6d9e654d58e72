"""Reading: from the files in a journal's folder to records, and every problem at once.

In: a folder and the moment that counts as now. Out: a `Journal` if nothing is wrong, and the list of
problems, each with its file and line. No content of a file raises an error here. Must not know:
calculation, pages, writing, the clock.
"""
