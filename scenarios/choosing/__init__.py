"""Other values and other stages for a scenario."""
