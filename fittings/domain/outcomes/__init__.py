"""What becomes of the people fitted: time at risk, rates, curves, comparisons, models, and agreement of fitters."""
