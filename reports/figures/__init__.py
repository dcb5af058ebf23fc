"""Charts, timing diagrams and schematics."""
