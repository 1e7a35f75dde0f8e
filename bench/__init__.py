"""What is timed: each question beside its floor in the same run, as medians and ratios. Never part of the tests."""
