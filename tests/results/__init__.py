"""The typed results hold what the verbs write, to the letter, and describe every key of it."""
