"""Troubled designs from practice, rebuilt small."""
