"""What may be tried in place of what a scenario has: other values, and other stages."""
