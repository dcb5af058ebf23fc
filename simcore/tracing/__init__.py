"""Traces of single runs, and replays of recorded traces."""
