"""People: customers, their links and data, follow-ups, requests, notices, where visitors start."""

from __future__ import annotations

# Migrations name it here.
from fittings.models.people.people import new_nonce

__all__ = ["new_nonce"]
