"""Tests of the scenarios package."""
