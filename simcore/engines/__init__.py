"""The two engines, and what they share."""
