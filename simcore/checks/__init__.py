"""Electrical checks of a design, worst case over its tolerances, without simulating."""
