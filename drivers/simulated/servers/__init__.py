"""Instruments of the simulated rig as seen from the wire, written independently of the readers."""
