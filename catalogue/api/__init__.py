"""The public API of the catalogue."""
