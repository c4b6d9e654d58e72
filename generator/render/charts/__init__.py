"""Charts: what was found about a system in, a still picture and the same chart for scripts out.

A kind of chart has one specification, made and checked once and free of data; a page's chart is data beside
its name. Times are ms of the journal's wall clock written as if they were UTC, on axes that read UTC, so
that no reader's own time zone moves a reading to another day. Must not know: files, templates.
"""
