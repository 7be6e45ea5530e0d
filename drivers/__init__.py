"""Talking to instruments: byte layer, instruments, readings, and the simulated rig."""
