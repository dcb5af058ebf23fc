"""What came of it: verdicts, root causes, margins, and tallies that add."""
