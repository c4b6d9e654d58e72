"""What is planned, before it is done: the way, where it goes, what it will take, and what to do hour by hour.

In: a plan and the journal at a moment. Out: all that a keeper needs for the day. Must not know: files, pages,
the clock.
"""
