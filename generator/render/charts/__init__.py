"""Charts. In: findings about a system. Out: a still picture, and the same chart for scripts.

Each kind of chart has one specification without data, made and checked once. A page's chart is the name of
its specification and its data. Times are ms of the journal's wall clock, written as if they were UTC, on axes
that read UTC, so that a reader's time zone does not move a reading to another day. Must not know: files,
templates.
"""
