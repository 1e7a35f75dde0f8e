"""Under which conditions a test was made: conditioning, climate, calibrations."""
