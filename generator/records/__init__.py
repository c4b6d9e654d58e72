"""Records: what a keeper thinks of, frozen, each with its file, line and column.

In: plain values. Out: System, Reading, Coral, Trade … and Problem. Must not know: how files look,
pages, the clock.
"""
