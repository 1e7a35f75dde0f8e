"""Fittings in the audit trail: that something was done and by whom, never what was found of a person.

The trail can't be changed, so what a person may ask to have removed must not enter it: names, e-mail addresses,
everything about health, and free text. Of those columns and rows the trail has a salted digest (`core.audit.digests`).
"""

from __future__ import annotations

from core.audit import Part, register_action, register_record
from fittings.domain.fitting.intake import FOOT_LIMITS
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
    SupersededLook,
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
    "link_nonce",
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


register_record(NeedRules, decisions=("adopted",))
register_record(GradeCutoffs)
register_record(ReferralRules, decisions=("adopted",))
# That an e-mail came back has an entry of its own, on the try to reach the customer.
register_record(
    Customer, private=("name", "email", "phone", "mail_stopped_at", "link_nonce"), exclude=("mail_failed_at",)
)
register_record(Consent, private=("guardian",))
register_record(SecondObservation, private=(*FOOT_LIMITS, "shoe_id"))
# The choice of a fitting follows from the choices, which have entries of their own; what was advised is shown only.
register_record(
    Fitting,
    private=_HEALTH,
    parts=(Part("history"), Part("feet"), Part("look_feet"), Part("picture_angles")),
    exclude=("choice_id", "advised"),
)
register_record(TryOn, private=("shoe_id", "size_eu", "comfort", "with_insole"))
register_record(
    Choice,
    private=(
        "shoe_id",
        "score_card_id",
        "size_eu",
        "width",
        "comfort",
        "reason",
        "stability",
        "in_target",
        "probability",
    ),
)
# That a reminder went out is in its own column, not by the trail: it changes nothing of the record.
register_record(FollowUp, private=_ANSWERS, parts=(Part("pains"),), exclude=("sent_at", "reminders"))
register_record(Correction, private=("note",))
register_record(NoticeTick)
register_record(SupersededAnswer, private=("answers", "reason"))
register_record(SupersededLook, private=("content", "reason"))
register_record(ContactTry, private=("submission",))
register_record(AnswerConcern, private=("advice", "stop_signs", "outcome", "note"))
register_record(ReferralLetter, private=("addressee", "remark", "submission"))
register_record(ClinicianReply, private=("clinician", "wishes", "note", "submission"))
# An entry a section that was saved, naming the section; its content is in no entry.
register_record(Draft, parts=(Part("sections"),))
register_record(StatisticsExport)
register_record(EvidenceRelease, decisions=("proposed", "confirmed"))
# Where it came from is emptied a day later.
register_record(FittingRequest, private=("name", "reach"), exclude=("asked_from",))
# What staff answered is about them and no customer, so the trail may hold it.
register_record(CaseResult)

NOT_AUDITED = {
    "fittings.course": "follows from records that are, by triggers; `check_courses` compares it with them",
    "fittings.removedcount": "counts without persons, recorded when a consent is withdrawn, which has its own entry",
    "fittings.trialshown": "hashes of what was shown of a trial of rules; changes nothing",
    "fittings.historyitem": "health data; part of the digest of its fitting",
    "fittings.footobservation": "health data; part of the digest of its fitting",
    "fittings.lookfoot": "health data; part of the digest of its fitting",
    "fittings.pictureangle": "health data; part of the digest of its fitting",
    "fittings.shoemovement": "follows from the looks",
    "fittings.draftsection": "may hold health data; part of the digest of its unfinished fitting",
    "fittings.painreport": "health data; part of the digest of its follow-up",
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
register_action("fittings.link.revoked", "ended the links of the customer to {subject}")
register_action("fittings.customer.links_revoked", "ended the links that stop e-mails to {subject}")
register_action("fittings.fitting.looked", "recorded looks in motion at {subject}")
register_action("fittings.fitting.looks_corrected", "corrected what was seen in motion at {subject}")
register_action("fittings.look.superseded", "set aside the {subject}")
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
register_action("fittings.concern.opened", "put {subject} on the list of answers that need attention")
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
