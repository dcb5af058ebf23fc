"""Contacts that bounce: models, recorded bursts, and what all have in common."""
