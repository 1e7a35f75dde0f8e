"""What became of people over a store or all of them: courses, curves, agreement, statistics, evidence."""
