"""Troubled designs from practice."""
