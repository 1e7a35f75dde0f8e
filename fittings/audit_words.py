"""Fittings in the audit trail: that something was done and by whom, never what was found of a person.

The trail can't be changed, so what a person may ask to have removed must not enter it: names, e-mail addresses,
everything about health, and free text. Those columns are left out of what the trail records.
"""

from __future__ import annotations

from core.audit import register_action, register_record
from fittings.models import (
    AnswerConcern,
    CaseResult,
    Choice,
    ClinicianReply,
    Consent,
    ContactTry,
    Correction,
    Customer,
    Draft,
    EvidenceRelease,
    Fitting,
    FittingRequest,
    FollowUp,
    GradeCutoffs,
    NeedRules,
    NoticeTick,
    ReferralLetter,
    ReferralRules,
    SecondObservation,
    StatisticsExport,
    SupersededAnswer,
    TryOn,
)

_HEALTH = (
    "use",
    "body_mass_kg",
    "distance_km_week",
    "pain_now",
    "stop_signs",
    "stop_signs_asked",
    "pain_weeks",
    "clinician_advised",
    "referral_advice",
    "hip_weak",
    "current_shoe_id",
    "current_shoe_text",
    "insole",
    "size_system",
    "cushioning_wish",
    "size_eu",
    "need_centre",
    "need_low",
    "need_high",
    "need_contributions",
    "need_left_out",
    # Follows from the choices, which have entries of their own.
    "choice_id",
    "advised",
)
_ANSWERS = (
    "wearing",
    "distance_km_week",
    "comfort",
    "overuse",
    "overuse_total",
    "overuse_substantial",
    "days_off",
    "recurrence",
    "recurrence_reasoning",
    "nothing_hurts",
    "free_of_complaints",
    "comment",
    "saw_clinician",
)

_SECOND_LOOK = (
    "pronation",
    "tibial_rotation",
    "rearfoot_eversion",
    "fpi6",
    "pronation_deg",
    "tibial_rotation_deg",
    "rearfoot_eversion_deg",
    "navicular_drop_mm",
    "length_mm",
    "width_mm",
    "shoe_id",
)

register_record(NeedRules)
register_record(GradeCutoffs)
register_record(ReferralRules)
register_record(Customer, exclude=("name", "email", "phone", "mail_stopped_at", "mail_failed_at"))
register_record(Consent, exclude=("guardian",))
register_record(SecondObservation, exclude=_SECOND_LOOK)
register_record(Fitting, exclude=_HEALTH)
register_record(TryOn, exclude=("size_eu", "comfort", "with_insole"))
register_record(Choice, exclude=("size_eu", "comfort", "reason", "in_target", "probability"))
# That a reminder went out is in its own column, not by the trail: it changes nothing of the record.
register_record(FollowUp, exclude=(*_ANSWERS, "sent_at", "reminders"))
register_record(Correction, exclude=("note",))
register_record(NoticeTick)
register_record(SupersededAnswer, exclude=("answers", "reason"))
register_record(ContactTry, exclude=("submission",))
register_record(AnswerConcern, exclude=("advice", "stop_signs", "outcome", "note"))
register_record(ReferralLetter, exclude=("addressee", "remark", "submission"))
register_record(ClinicianReply, exclude=("clinician", "wishes", "note", "submission"))
# An entry a section that was saved, naming the section; its content is in no entry.
register_record(Draft)
register_record(StatisticsExport)
register_record(EvidenceRelease)
register_record(FittingRequest, exclude=("name", "reach", "asked_from"))
# What staff answered is about them and no customer, so the trail may hold it.
register_record(CaseResult)

NOT_AUDITED = {
    "fittings.course": "follows from records that are, by triggers; `check_courses` compares it with them",
    "fittings.removedcount": "counts without persons, recorded when a consent is withdrawn, which has its own entry",
    "fittings.trialshown": "hashes of what was shown of a trial of rules; changes nothing",
    "fittings.historyitem": "health data, written once with its fitting, whose entry says that it was made",
    "fittings.footobservation": "health data, written once with its fitting, whose entry says that it was made",
    "fittings.lookfoot": "health data; recording a look leaves an entry on its fitting",
    "fittings.pictureangle": "health data, written once with its fitting, whose entry says that it was made",
    "fittings.shoemovement": "follows from the looks",
    "fittings.draftsection": "may hold health data; each saving leaves an entry on its unfinished fitting",
    "fittings.painreport": "health data, written once with its follow-up, whose entry says that it was answered",
}
"""Models without entries of their own, and why."""

register_action("fittings.need_rules.created", "made the {subject}")
register_action("fittings.need_rules.drafted", "drafted the {subject}")
register_action("fittings.need_rules.adopted", "adopted the {subject}")
register_action("fittings.need_rules.replaced", "replaced the {subject}")
register_action("fittings.need_rules.discarded", "discarded the draft of the {subject}")
register_action("fittings.second_observation.recorded", "recorded the {subject}")
register_action("fittings.case_result.recorded", "answered a set of drawn cases: {subject}")
register_action("fittings.customer.created", "added {subject}")
register_action("fittings.customer.exported", "exported the data of {subject}")
register_action("fittings.customer.withdrew", "removed {subject}, who withdrew the consent")
register_action("fittings.customer.erased", "removed {subject} with all their data")
register_action("fittings.customer.retention_ended", "removed {subject}: the retention period is over")
register_action("fittings.record.removed", "removed {subject}")
register_action("fittings.fitting.emptied", "removed everything from {subject} except that it took place")
register_action("fittings.consent.given", "recorded {subject}")
register_action("fittings.consent.guardian_named", "recorded who gave {subject}")
register_action("fittings.fitting.recorded", "recorded {subject}")
register_action("fittings.fitting.looked", "recorded looks in motion at {subject}")
register_action("fittings.try_on.recorded", "recorded {subject}")
register_action("fittings.choice.recorded", "recorded the {subject}")
register_action("fittings.choice.corrected", "took back a choice: {subject}")
register_action("fittings.follow_up.moved", "moved {subject} to the shoe that was chosen instead")
register_action("fittings.follow_up.closed", "closed {subject}, because the pair was returned")
register_action("fittings.follow_up.amended", "amended the answers of {subject}")
register_action("fittings.answers.superseded", "set aside the {subject}")
register_action("fittings.contact.noted", "noted a contact outside the schedule: {subject}")
register_action("fittings.customer.merged", "merged {subject} into another record of the same person")
register_action("fittings.customer.took_over", "gave {subject} what was recorded under another record of them")
register_action("fittings.customer.moved", "moved {subject} to another store")
register_action("fittings.record.moved", "moved {subject} with its customer")
register_action("fittings.follow_up.created", "made {subject}")
register_action("fittings.follow_up.answered", "entered the answers of {subject}")
register_action("fittings.grade_cutoffs.created", "made the {subject}")
register_action("fittings.draft.started", "began {subject}")
register_action("fittings.draft.section_saved", "saved a section of {subject}")
register_action("fittings.draft.finished", "finished {subject}")
register_action("fittings.draft.discarded", "discarded {subject}")
register_action("fittings.draft.expired", "removed {subject}, which had expired")
register_action("fittings.customer.corrected", "corrected the contact details of {subject}")
register_action("fittings.customer.discarded", "removed {subject}, whose fitting was discarded")
register_action("fittings.consent.discarded", "removed {subject}, which no longer holds")
register_action("fittings.customer.mail_stopped", "noted that {subject} wants no more e-mail")
register_action("fittings.customer.mail_allowed", "noted that {subject} may be written to again")
register_action("fittings.statistics.exported", "made the {subject}")
register_action("fittings.contact_try.noted", "noted {subject}")
register_action("fittings.referral_rules.created", "made the {subject}")
register_action("fittings.referral_rules.drafted", "drafted the {subject}")
register_action("fittings.referral_rules.adopted", "adopted the {subject}")
register_action("fittings.referral_rules.replaced", "replaced the {subject}")
register_action("fittings.referral_rules.discarded", "discarded the draft of the {subject}")
register_action("fittings.concern.opened", "put {subject} on the list of answers to look after")
register_action("fittings.concern.signs_answered", "recorded the stop signs of {subject}")
register_action("fittings.concern.taken_over", "took over {subject}")
register_action("fittings.concern.closed", "closed {subject}")
register_action("fittings.notice.informed", "informed the {subject}")
register_action("fittings.notice.reopened", "noted that this was ticked by mistake: {subject}")
register_action("fittings.letter.written", "wrote {subject}")
register_action("fittings.reply.recorded", "recorded the {subject}")
register_action("fittings.request.asked", "received {subject}")
register_action("fittings.request.done", "arranged {subject}")
register_action("fittings.request.closed", "closed {subject}")
register_action("fittings.request.expired", "removed what {subject} said of a person: its day is over")
register_action("fittings.evidence.proposed", "proposed the {subject}")
register_action("fittings.evidence.published", "published the {subject}")
register_action("fittings.evidence.replaced", "replaced the {subject} by later ones")
register_action("fittings.evidence.withdrawn", "withdrew the {subject}")
