"""Checks of the drivers floor."""
