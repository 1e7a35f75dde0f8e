"""The tables that hold something of a person, and the way from each to the store whose staff may see it."""

from __future__ import annotations

from catalogue.models import Reservation
from core.gate.row_scope import protect
from fittings.models import (
    AnswerConcern,
    Choice,
    ClinicianReply,
    Consent,
    ContactTry,
    Correction,
    Course,
    Customer,
    Draft,
    DraftSection,
    Fitting,
    FittingRequest,
    FollowUp,
    FootObservation,
    HistoryItem,
    LookFoot,
    NoticeTick,
    PainReport,
    PictureAngle,
    ReferralLetter,
    SecondObservation,
    ShoeMovement,
    SupersededAnswer,
    SupersededLook,
    TryOn,
)

# A table of the catalogue: its notes may name a customer.
protect(Reservation, "store", names=True)
protect(Customer, "store", names=True)
protect(Consent, "customer__store", names=True)
protect(FittingRequest, "store", names=True)
protect(Fitting, "store")
protect(Draft, "store", names=True)
protect(DraftSection, "draft__store", names=True)
protect(HistoryItem, "fitting__store")
protect(FootObservation, "fitting__store")
protect(LookFoot, "fitting__store")
protect(PictureAngle, "fitting__store")
protect(ShoeMovement, "fitting__store")
protect(SupersededLook, "fitting__store")
protect(TryOn, "fitting__store")
protect(Choice, "fitting__store")
protect(Correction, "choice__fitting__store")
protect(NoticeTick, "choice__fitting__store")
protect(Course, "store")
protect(FollowUp, "fitting__store")
protect(SecondObservation, "fitting__store")
protect(PainReport, "follow_up__fitting__store")
protect(SupersededAnswer, "follow_up__fitting__store")
protect(ContactTry, "follow_up__fitting__store")
protect(AnswerConcern, "follow_up__fitting__store")
protect(ReferralLetter, "fitting__store")
protect(ClinicianReply, "fitting__store")

NOT_PROTECTED = {
    "fittings.caseresult": "how staff graded drawn cases; nothing of a customer",
    "fittings.evidencerelease": "counts with noise, as they are published; nothing of a person",
    "fittings.gradecutoffs": "cut-offs of the practice; nothing of a person",
    "fittings.needrules": "rules of the practice; nothing of a person",
    "fittings.referralrules": "rules of the practice; nothing of a person",
    "fittings.removedcount": "counts of five and more, without persons",
    "fittings.statisticsexport": "that rows were exported, by whom and why; nothing of a person",
    "fittings.trialshown": "hashes from which nothing of a person can be read",
}
"""Tables that hold nothing of a person, and why."""

WITHOUT_CUSTOMER = {
    "catalogue.reservation": "its note is free text for a few days, removed when the reservation ends",
    "fittings.fittingrequest": "somebody who is no customer yet; name and way to reach go when it is closed",
}
"""Protected tables that no row leads from to a customer, and why; what is held on a customer leaves them out."""
