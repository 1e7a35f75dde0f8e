"""Writes of the lab.

Each service decides by itself whether its actor may do what it does (`rights.needs`); the views and the API only ask
earlier, so that nobody is shown what they may not do, and an actor of None is the system itself.
"""

from __future__ import annotations

from labtests.services.adoptions import draft_dry_run, model_adopt
from labtests.services.batches import (
    BatchPreview,
    FilePreview,
    GivenFile,
    batch_confirm,
    batch_forget,
    batch_preview,
    batch_stage,
)
from labtests.services.checks import check_shoe_designate, check_shoe_retire
from labtests.services.conditioning import (
    SpecimenGiven,
    chamber_create,
    conditioning_strike,
    specimen_in,
    specimen_out,
)
from labtests.services.deciding import Decided, bench_tests_decide
from labtests.services.incidents import (
    incident_carry_out,
    incident_dismiss,
    incident_preview,
    incident_propose,
    incident_record,
)
from labtests.services.model_drafts import (
    draft_fit,
    model_draft_create,
    model_draft_discard,
    model_draft_edit,
    model_draft_use_fit,
)
from labtests.services.publishing import ShoeProposal, shoe_proposal, shoe_publish
from labtests.services.reviews import (
    bench_test_amend,
    bench_test_approve,
    bench_test_clear_doubt,
    bench_test_hold,
    bench_test_keep_on_record,
    bench_test_void,
)
from labtests.services.rigs import calibration_record, rig_clear, rig_create, rig_stop
from labtests.services.specimens import (
    ReceiptGiven,
    specimen_dispose,
    specimen_move,
    specimen_restore,
    specimens_receive,
)
from labtests.services.studies import gauge_study_close, gauge_study_plan
from labtests.services.uploads import (
    Verdict,
    upload_confirm,
    upload_preview,
    upload_stage,
    upload_store,
    upload_unstage,
)

__all__ = [
    "BatchPreview",
    "Decided",
    "FilePreview",
    "GivenFile",
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
    "calibration_record",
    "chamber_create",
    "check_shoe_designate",
    "check_shoe_retire",
    "conditioning_strike",
    "draft_dry_run",
    "draft_fit",
    "gauge_study_close",
    "gauge_study_plan",
    "incident_carry_out",
    "incident_dismiss",
    "incident_preview",
    "incident_propose",
    "incident_record",
    "model_adopt",
    "model_draft_create",
    "model_draft_discard",
    "model_draft_edit",
    "model_draft_use_fit",
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
    "upload_confirm",
    "upload_preview",
    "upload_stage",
    "upload_store",
    "upload_unstage",
]
