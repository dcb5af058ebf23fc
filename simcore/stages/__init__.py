"""Stages between contact and counter; `base` holds the contract."""
