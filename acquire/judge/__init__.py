"""Judging: the doubt of a reading, the limit it must meet, the chance that it does, the verdict."""
