"""The output curve: amps against shaft speed, with its doubt, from a handful of steady points."""
