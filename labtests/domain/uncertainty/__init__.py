"""Uncertainty of readings and scores: budgets, components, propagation, pooling, planning."""
