"""Counters and decoders; `base` holds the contract."""
