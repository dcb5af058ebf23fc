"""Recorded traces, from CSV files and value change dumps."""
