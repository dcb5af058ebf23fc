"""From a scenario's text to a checked design."""
