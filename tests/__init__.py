"""Tests of steptally, in the folders of the packages they test."""
