"""A fitting: draft, looks, need, match, choice, and the rules behind it."""
