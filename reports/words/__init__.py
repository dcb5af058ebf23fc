"""Numbers, quantities and sentences that several reports share."""
