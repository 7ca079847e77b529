"""The bench: a reading's clock, row and reference become settled points with their uncertainty."""
