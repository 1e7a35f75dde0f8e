"""What becomes of the people fitted: answers, time at risk, rates, curves, models, and hiding small counts."""
