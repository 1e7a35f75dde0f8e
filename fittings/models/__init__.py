"""People and what was done for them: rules of the need, customers, fittings, follow-ups."""

from __future__ import annotations

from fittings.models.fitting import Choice, Fitting, FootObservation, HistoryItem, TryOn
from fittings.models.follow_up import FollowUp, PainReport
from fittings.models.people import Consent, Customer
from fittings.models.removal import RemovedCount
from fittings.models.rules import NeedRules

__all__ = [
    "Choice",
    "Consent",
    "Customer",
    "Fitting",
    "FollowUp",
    "FootObservation",
    "HistoryItem",
    "NeedRules",
    "PainReport",
    "RemovedCount",
    "TryOn",
]
