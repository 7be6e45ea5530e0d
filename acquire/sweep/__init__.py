"""The sweep: a state machine without I/O, clock or threads. Readings in, commands out."""
