"""Rendering: findings in, pages out.

In: a view of the journal for one audience, and the findings. Out: the site as (address, bytes), made
from frozen page models. Must not know: the keeper's files, the disk, the clock.
"""
