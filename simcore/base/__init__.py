"""What everything in simcore stands on."""
