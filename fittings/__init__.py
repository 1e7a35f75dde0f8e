"""Fittings: people, what they need of a shoe, what they chose and how it went."""
