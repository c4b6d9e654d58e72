"""Growth: what a coral weighs and measures, how fast it grows, when it runs out of room, what light it is used to.

In: corals, their system and its log, a day. Out: findings in g, cm, cm², %/day, cm/year, mol/m²/day, and
dates with their intervals. Must not know: pages, display units, other keepers.
"""
