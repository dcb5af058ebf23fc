"""Checks against values that others published."""
