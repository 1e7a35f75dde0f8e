"""People and what was done for them: rules of the need, customers, fittings, follow-ups."""

from __future__ import annotations

from fittings.models.case_result import CaseResult
from fittings.models.choice import Choice, Correction, CorrectionKind
from fittings.models.concern import AnswerConcern, ConcernOutcome
from fittings.models.contact import ContactTry, TryKind
from fittings.models.course import Course, LeftOut
from fittings.models.cutoffs import GradeCutoffs
from fittings.models.draft import Draft, DraftSection, SectionName
from fittings.models.evidence import EvidenceRelease, ReleaseState
from fittings.models.fitting import Fitting, FootObservation, HistoryItem, TryOn
from fittings.models.follow_up import FollowUp, PainReport, SupersededAnswer
from fittings.models.look import LookFoot, ShoeMovement, SupersededLook
from fittings.models.notice import NoticeTick
from fittings.models.people import Consent, Customer
from fittings.models.picture_angle import PictureAngle
from fittings.models.referral import ClinicianReply, ReferralLetter
from fittings.models.referral_rules import ReferralRules
from fittings.models.removal import RemovedCount
from fittings.models.requests import FittingRequest, RequestState
from fittings.models.rules import NeedRules
from fittings.models.second_look import SecondObservation
from fittings.models.statistics import StatisticsExport
from fittings.models.trial_shown import TrialShown

__all__ = [
    "AnswerConcern",
    "CaseResult",
    "Choice",
    "ClinicianReply",
    "ConcernOutcome",
    "Consent",
    "ContactTry",
    "Correction",
    "CorrectionKind",
    "Course",
    "Customer",
    "Draft",
    "DraftSection",
    "EvidenceRelease",
    "Fitting",
    "FittingRequest",
    "FollowUp",
    "FootObservation",
    "GradeCutoffs",
    "HistoryItem",
    "LeftOut",
    "LookFoot",
    "NeedRules",
    "NoticeTick",
    "PainReport",
    "PictureAngle",
    "ReferralLetter",
    "ReferralRules",
    "ReleaseState",
    "RemovedCount",
    "RequestState",
    "SecondObservation",
    "SectionName",
    "ShoeMovement",
    "StatisticsExport",
    "SupersededAnswer",
    "SupersededLook",
    "TrialShown",
    "TryKind",
    "TryOn",
]
