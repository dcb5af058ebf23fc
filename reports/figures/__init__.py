"""Charts, timing diagrams and drawings, each from the typed results that it shows."""
