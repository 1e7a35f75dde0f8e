"""People: customers, their links and data, follow-ups, requests, notices, where visitors start."""
