"""The lab's records in the audit trail, and its actions in words."""

from __future__ import annotations

from core.audit import register_action, register_record
from labtests.models import (
    Adoption,
    BenchTest,
    Calibration,
    Chamber,
    CheckAlarm,
    CheckDuty,
    ClimateLog,
    ConditioningEntry,
    GaugeStudy,
    Incident,
    LoggedConditioning,
    ModelDraft,
    Protocol,
    ProtocolDraft,
    Receipt,
    Rig,
    ScoringModel,
    Specimen,
    TemperatureStudy,
    Upload,
)

register_record(Rig)
register_record(Calibration, decisions=("signed",))
register_record(Receipt)
register_record(Specimen)
register_record(Protocol)
register_record(ScoringModel)
register_record(Upload)
register_record(Chamber)
register_record(ConditioningEntry)
register_record(LoggedConditioning)
register_record(ModelDraft)
# The results of an adoption, by the million, are in the trail by their digest.
register_record(Adoption, sealed=("results",))
# One record is the whole test: a changed point of a curve is a change of it.
register_record(BenchTest, related=("curves", "readings", "results"), decisions=("reviewed",))

register_action("labtests.rig.created", "set up the rig {subject}")
register_action("labtests.rig.stopped", "stopped publishing from the rig {subject}")
register_action("labtests.rig.cleared", "cleared the rig {subject}")
register_action("labtests.calibration.recorded", "recorded a calibration: {subject}")
register_action("labtests.specimen.created", "took in the specimen {subject}")
register_action("labtests.specimen.reassigned", "moved the specimen {subject} to the shoe that its own was merged into")
register_action("labtests.receipt.recorded", "recorded the {subject}")
register_action("labtests.specimen.made_check_shoe", "made the specimen {subject} a check shoe")
register_action("labtests.specimen.moved", "moved the specimen {subject}")
register_action("labtests.specimen.disposed", "disposed of the specimen {subject}")
register_action("labtests.specimen.restored", "took back the disposal of the specimen {subject}")
register_action("labtests.protocol.created", "made the protocol {subject}")
register_action("labtests.scoring_model.created", "made the scoring model {subject}")
register_action("labtests.scoring_model.adopted", "took the scoring model {subject} into use")
register_action("labtests.scoring_model.followed", "took the scoring model {subject} out of use")
register_action("labtests.model_draft.created", "drafted the scoring model {subject}")
register_action("labtests.model_draft.changed", "changed the draft {subject}")
register_action("labtests.model_draft.fitted", "fitted the draft {subject} to reference shoes")
register_action("labtests.model_draft.discarded", "discarded the draft {subject}")
register_action("labtests.model_draft.adopted", "adopted the draft {subject}")
register_action("labtests.adoption.made", "rescored by the scoring model {subject}")
register_action("labtests.upload.stored", "uploaded {subject}")
register_action("labtests.test.accepted", "submitted {subject}, within the protocol")
register_action("labtests.test.held", "submitted {subject}, held")
register_action("labtests.test.put_on_hold", "put {subject} on hold")
register_action("labtests.test.approved", "approved {subject}")
register_action("labtests.test.put_on_record", "put {subject} on record as outside the protocol")
# As entries of earlier versions call it.
register_action("labtests.test.released", "put {subject} on record as outside the protocol")
register_action("labtests.test.voided", "voided {subject}")
register_action("labtests.test.amended", "amended {subject} by a successor")
register_action("labtests.test.replacement_submitted", "submitted a replacement of {subject}")
register_action("labtests.test.replacement_linked", "submitted {subject} as a replacement")
register_action("labtests.test.doubted", "put {subject} in doubt")
register_action("labtests.test.doubt_cleared", "cleared the doubt about {subject}")
register_action("labtests.upload.typed_in", "typed in by hand and stored {subject}")
register_action("labtests.chamber.created", "set up the chamber {subject}")
register_action("labtests.conditioning_entry.put_in", "put a specimen in: {subject}")
register_action("labtests.conditioning_entry.taken_out", "took a specimen out: {subject}")
register_action("labtests.conditioning_entry.struck", "struck {subject}")
register_action("labtests.logged_conditioning.counted", "took hours from the log: {subject}")

register_record(Incident, decisions=("decided",))
register_action("labtests.incident.proposed", "proposed the {subject}")
register_action("labtests.incident.carried_out", "carried out the {subject}")
register_action("labtests.incident.dismissed", "dismissed the {subject}")
register_action("labtests.incident.withdrawn", "withdrew the proposal of the {subject}")

register_record(CheckDuty)
register_record(CheckAlarm)
# The plan is one record with its specimens and operators.
register_record(GaugeStudy, related=("parts", "people"))
register_action("labtests.check_duty.designated", "designated the {subject}")
register_action("labtests.check_duty.retired", "retired the {subject}")
register_action("labtests.check_alarm.raised", "raised an {subject}")
register_action("labtests.check_alarm.cleared", "cleared the {subject}")
register_action("labtests.gauge_study.planned", "planned the {subject}")
register_action("labtests.gauge_study.closed", "closed the {subject}")

register_record(ClimateLog)
register_record(ProtocolDraft, decisions=("adopted",))
register_action("labtests.calibration.signed", "signed a calibration: {subject}")
register_action("labtests.calibration.certificate_added", "added the certificate of a calibration: {subject}")
register_action("labtests.calibration.struck", "struck a calibration: {subject}")
register_action("labtests.climate_log.imported", "imported the {subject}")
register_action("labtests.climate_log.struck", "struck the {subject}")
register_action("labtests.test.reason_lifted", "lifted a reason why {subject} was held")
register_action("labtests.protocol_draft.created", "drafted the protocol {subject}")
register_action("labtests.protocol_draft.changed", "changed the draft of a protocol {subject}")
register_action("labtests.protocol_draft.discarded", "discarded the draft of a protocol {subject}")
register_action("labtests.protocol_draft.adopted", "adopted the draft of a protocol {subject}")
register_action("labtests.protocol.adopted", "took the protocol {subject} into use")
register_action("labtests.protocol.followed", "took the protocol {subject} out of use")

register_record(TemperatureStudy, decisions=("decided",))
register_action("labtests.temperature_study.planned", "planned the {subject}")
register_action("labtests.temperature_study.proposed", "proposed the coefficients of the {subject}")
register_action("labtests.temperature_study.adopted", "took the coefficients of the {subject} into use")
register_action("labtests.temperature_study.replaced", "took the coefficients of the {subject} out of use")
register_action("labtests.temperature_study.discarded", "discarded the {subject}")
