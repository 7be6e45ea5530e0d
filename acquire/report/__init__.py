"""The report on paper: one model of it, written as HTML and as PDF."""
