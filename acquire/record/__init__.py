"""The record of a run: its folder, journal, samples, curve, notes and seal."""
