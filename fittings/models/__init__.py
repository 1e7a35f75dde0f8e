"""People and what was done for them: rules of the need, customers, fittings, follow-ups."""

from __future__ import annotations

from fittings.models.fitting.case_result import CaseResult
from fittings.models.fitting.choice import Choice, Correction, CorrectionKind
from fittings.models.fitting.cutoffs import GradeCutoffs
from fittings.models.fitting.draft import Draft, DraftSection, SectionName
from fittings.models.fitting.fitting import Fitting, FootObservation, HistoryItem, TryOn
from fittings.models.fitting.look import LookFoot, ShoeMovement, SupersededLook
from fittings.models.fitting.picture_angle import PictureAngle
from fittings.models.fitting.referral import ClinicianReply, ReferralLetter
from fittings.models.fitting.referral_rules import ReferralRules
from fittings.models.fitting.rules import NeedRules
from fittings.models.fitting.second_look import SecondObservation
from fittings.models.fitting.trial_shown import TrialShown
from fittings.models.outcomes.course import Course, LeftOut
from fittings.models.outcomes.evidence import EvidenceRelease, ReleaseState
from fittings.models.outcomes.statistics import StatisticsExport
from fittings.models.people.concern import AnswerConcern, ConcernOutcome
from fittings.models.people.contact import ContactTry, TryKind
from fittings.models.people.follow_up import FollowUp, PainReport, SupersededAnswer
from fittings.models.people.notice import NoticeTick
from fittings.models.people.people import Consent, Customer
from fittings.models.people.removal import RemovedCount
from fittings.models.people.requests import FittingRequest, RequestState

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
