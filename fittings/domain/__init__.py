"""Computations of a fitting: numbers in, frozen results out, nothing of the web or the database."""
