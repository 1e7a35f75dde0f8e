"""Writes of the lab.

Each service decides by itself whether its actor may do what it does (`rights.needs`); the views and the API only ask
earlier, so that nobody is shown what they may not do, and an actor of None is the system itself.
"""

from __future__ import annotations

from labtests.services.bench.batches import (
    BatchPreview,
    FilePreview,
    GivenFile,
    batch_confirm,
    batch_forget,
    batch_preview,
    batch_stage,
)
from labtests.services.bench.calibrations import (
    calibration_attach,
    calibration_record,
    calibration_sign,
    calibration_strike,
)
from labtests.services.bench.climate import (
    ClimateGiven,
    ClimatePreview,
    climate_confirm,
    climate_import,
    climate_preview,
    climate_stage,
    climate_strike,
)
from labtests.services.bench.conditioning import (
    SpecimenGiven,
    chamber_create,
    conditioning_strike,
    specimen_in,
    specimen_out,
)
from labtests.services.bench.incidents import (
    incident_ask,
    incident_carry_out,
    incident_dismiss,
    incident_preview,
    incident_propose,
    incident_withdraw,
)
from labtests.services.bench.rigs import rig_clear, rig_create, rig_stop
from labtests.services.bench.specimens import (
    ReceiptGiven,
    specimen_dispose,
    specimen_move,
    specimen_restore,
    specimens_receive,
)
from labtests.services.bench.uploads import (
    Verdict,
    upload_confirm,
    upload_preview,
    upload_stage,
    upload_store,
    upload_unstage,
)
from labtests.services.deciding import Decided, bench_tests_decide
from labtests.services.reviews import (
    bench_test_amend,
    bench_test_approve,
    bench_test_clear_doubt,
    bench_test_hold,
    bench_test_keep_on_record,
    bench_test_void,
)
from labtests.services.scores.adoptions import draft_dry_run, model_adopt
from labtests.services.scores.model_drafts import (
    draft_fit,
    model_draft_create,
    model_draft_discard,
    model_draft_edit,
    model_draft_use_fit,
)
from labtests.services.scores.protocols import (
    ProtocolGiven,
    protocol_adopt,
    protocol_draft_create,
    protocol_draft_discard,
    protocol_draft_edit,
)
from labtests.services.scores.publishing import ShoeProposal, shoe_proposal, shoe_publish
from labtests.services.studies.check_shoes import check_shoe_designate, check_shoe_retire
from labtests.services.studies.studies import gauge_study_close, gauge_study_plan
from labtests.services.studies.temperature import (
    temperature_study_adopt,
    temperature_study_discard,
    temperature_study_plan,
    temperature_study_propose,
)

__all__ = [
    "BatchPreview",
    "ClimateGiven",
    "ClimatePreview",
    "Decided",
    "FilePreview",
    "GivenFile",
    "ProtocolGiven",
    "ReceiptGiven",
    "ShoeProposal",
    "SpecimenGiven",
    "Verdict",
    "batch_confirm",
    "batch_forget",
    "batch_preview",
    "batch_stage",
    "bench_test_amend",
    "bench_test_approve",
    "bench_test_clear_doubt",
    "bench_test_hold",
    "bench_test_keep_on_record",
    "bench_test_void",
    "bench_tests_decide",
    "calibration_attach",
    "calibration_record",
    "calibration_sign",
    "calibration_strike",
    "chamber_create",
    "check_shoe_designate",
    "check_shoe_retire",
    "climate_confirm",
    "climate_import",
    "climate_preview",
    "climate_stage",
    "climate_strike",
    "conditioning_strike",
    "draft_dry_run",
    "draft_fit",
    "gauge_study_close",
    "gauge_study_plan",
    "incident_ask",
    "incident_carry_out",
    "incident_dismiss",
    "incident_preview",
    "incident_propose",
    "incident_withdraw",
    "model_adopt",
    "model_draft_create",
    "model_draft_discard",
    "model_draft_edit",
    "model_draft_use_fit",
    "protocol_adopt",
    "protocol_draft_create",
    "protocol_draft_discard",
    "protocol_draft_edit",
    "rig_clear",
    "rig_create",
    "rig_stop",
    "shoe_proposal",
    "shoe_publish",
    "specimen_dispose",
    "specimen_in",
    "specimen_move",
    "specimen_out",
    "specimen_restore",
    "specimens_receive",
    "temperature_study_adopt",
    "temperature_study_discard",
    "temperature_study_plan",
    "temperature_study_propose",
    "upload_confirm",
    "upload_preview",
    "upload_stage",
    "upload_store",
    "upload_unstage",
]
