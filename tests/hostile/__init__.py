"""Whatever may happen to a campaign and its ledger."""
