"""Speed, measured: the C yardstick and what else is promised about time and memory."""
