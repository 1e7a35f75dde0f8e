"""Reads of the fittings. Ask the modules: `needs`, `recommendations`, `follow_ups`, `outcomes`, `lists`."""
