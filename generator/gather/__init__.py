"""Anyone's spreadsheet: what its rows mean for a journal, and what of it cannot be taken.

In: a file's bytes, what the journal knows, and answers given before. Out: facts for logs and corals, as the changes
of the shorthand; a doubt for each row that cannot be taken; the questions that are left. Must not know: the disk, the
terminal, pages.
"""
