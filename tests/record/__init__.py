"""Checks of the record of a run."""
