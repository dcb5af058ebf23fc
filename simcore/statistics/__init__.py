"""Rates with intervals, differences of designs, and what ends a campaign."""
