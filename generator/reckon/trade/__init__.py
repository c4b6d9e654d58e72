"""What was given and is owed, what can be offered, and whether the animal arrives alive.

In: trades, partners, corals, containers and a travel plan. Out: balances, offers with the rules that each
meets or fails, and a judged journey. Must not know: files, pages, the clock.
"""
