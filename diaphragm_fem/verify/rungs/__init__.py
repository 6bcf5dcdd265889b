"""The rungs of the ladder, simplest first: each module gives the checks of a few rungs."""
