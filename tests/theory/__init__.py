"""Checks against closed forms, and theorems that must hold for any design."""
