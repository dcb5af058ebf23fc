"""Many runs: blocks computed anywhere, added in order, kept in a ledger."""
