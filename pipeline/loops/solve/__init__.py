"""The search itself: turns, rules, the exact model and its solver, the local search, and how they are used."""
