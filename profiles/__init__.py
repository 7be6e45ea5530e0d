"""What things are: schemas, and the shipped alternators, rigs, instruments, methods and rules."""
