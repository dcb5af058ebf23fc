"""Verdicts, root causes, margins, and tallies that add."""
