"""Single runs looked at closely, and recorded traces replayed."""
