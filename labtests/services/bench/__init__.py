"""Days at the bench: rigs, calibrations, chambers, specimens, uploads, incidents."""
