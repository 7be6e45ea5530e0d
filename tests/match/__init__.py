"""Tests of the match of a unit to an engine."""
