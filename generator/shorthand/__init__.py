"""The trade's shorthand: one line of what was read, given, done or seen, and what it means for the files.

In: the text of a line and what the journal knows (`Known`: names, units, the moment). Out: changes, each of which
becomes one fact in a file, and every part of the line that was not understood; and the text of a file with changes
in it, comments and order kept. Must not know: files, the clock, pages, how anything is calculated.
"""
