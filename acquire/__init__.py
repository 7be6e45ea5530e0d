"""The run and all that is computed from it."""
