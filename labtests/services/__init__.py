"""Writes of the lab."""

from __future__ import annotations

from labtests.services.publishing import ShoeProposal, shoe_proposal, shoe_publish
from labtests.services.reviews import test_amend, test_approve, test_hold, test_release, test_void
from labtests.services.rigs import calibration_record, rig_clear, rig_create, rig_stop
from labtests.services.uploads import (
    Verdict,
    upload_confirm,
    upload_preview,
    upload_stage,
    upload_store,
    upload_unstage,
)

__all__ = [
    "ShoeProposal",
    "Verdict",
    "calibration_record",
    "rig_clear",
    "rig_create",
    "rig_stop",
    "shoe_proposal",
    "shoe_publish",
    "test_amend",
    "test_approve",
    "test_hold",
    "test_release",
    "test_void",
    "upload_confirm",
    "upload_preview",
    "upload_stage",
    "upload_store",
    "upload_unstage",
]
