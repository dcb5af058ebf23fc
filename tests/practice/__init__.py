"""Troubled designs from practice, rebuilt small."""
"""Troubled designs from practice."""
