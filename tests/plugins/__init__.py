"""Kinds that other packages add, with an example package that is really installed."""
