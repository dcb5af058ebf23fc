"""What everything stands on: time, draws, the arrays that flow, and how rules are compiled."""
