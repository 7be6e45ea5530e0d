"""How well the bench repeats itself: analysis of variance over runs, and the reference unit."""
