"""What was given and is owed, what can be offered, and whether the animal gets there alive.

In: trades, partners, corals, containers and a plan for the road. Out: balances, offers with the rule
each one meets or fails, and a judged journey. Must not know: files, pages, the clock.
"""
