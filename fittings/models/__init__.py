"""People and what was done for them: rules of the need, customers, fittings, follow-ups."""

from __future__ import annotations

from fittings.models.case_result import CaseResult
from fittings.models.contact import ContactTry, TryKind
from fittings.models.course import Course, LeftOut
from fittings.models.cutoffs import GradeCutoffs
from fittings.models.draft import Draft, DraftSection, SectionName
from fittings.models.fitting import Choice, Fitting, FootObservation, HistoryItem, TryOn
from fittings.models.follow_up import FollowUp, PainReport
from fittings.models.look import LookFoot, ShoeMovement
from fittings.models.people import Consent, Customer
from fittings.models.picture_angle import PictureAngle
from fittings.models.removal import RemovedCount
from fittings.models.rules import NeedRules
from fittings.models.second_look import SecondObservation
from fittings.models.statistics import StatisticsExport
from fittings.models.trial_shown import TrialShown

__all__ = [
    "CaseResult",
    "Choice",
    "Consent",
    "ContactTry",
    "Course",
    "Customer",
    "Draft",
    "DraftSection",
    "Fitting",
    "FollowUp",
    "FootObservation",
    "GradeCutoffs",
    "HistoryItem",
    "LeftOut",
    "LookFoot",
    "NeedRules",
    "PainReport",
    "PictureAngle",
    "RemovedCount",
    "SecondObservation",
    "SectionName",
    "ShoeMovement",
    "StatisticsExport",
    "TrialShown",
    "TryKind",
    "TryOn",
]
