"""Rendering: findings in, pages out.

In: a view of the journal for one audience, and the findings. Out: the site as (address, bytes), from pages told in
blocks. `base` is what pages are made of, `site` the roof over them. Must not know: the keeper's files, the disk, the
clock.
"""
