"""An example of kinds that another package adds to steptally."""
