"""The lab's tables, from the rig to the result."""

from __future__ import annotations

from labtests.models.adoptions import Adoption, DraftState, ModelDraft, ProtocolDraft
from labtests.models.benchtests import INCIDENT, BenchTest, Branch, Curve, CurveKind, Reading, Result, Source, State
from labtests.models.check_shoes import CheckAlarm, CheckDuty, CheckQuantity
from labtests.models.conditioning import Chamber, ClimateLog, ConditioningEntry, LoggedConditioning
from labtests.models.incidents import Incident, IncidentEffect, IncidentState
from labtests.models.methods import Protocol, ScoringModel
from labtests.models.rigs import CalibratedQuantity, Calibration, Rig
from labtests.models.scatter import Level, ShoeScatter, VariancePool
from labtests.models.specimens import Receipt, ReceiptSource, Specimen, SpecimenKind
from labtests.models.studies import GaugeStudy, GaugeStudyOperator, GaugeStudyPart
from labtests.models.temperature import TemperatureState, TemperatureStudy
from labtests.models.uploads import StagedUpload, Upload, UploadKind

__all__ = [
    "INCIDENT",
    "Adoption",
    "BenchTest",
    "Branch",
    "CalibratedQuantity",
    "Calibration",
    "Chamber",
    "CheckAlarm",
    "CheckDuty",
    "CheckQuantity",
    "ClimateLog",
    "ConditioningEntry",
    "Curve",
    "CurveKind",
    "DraftState",
    "GaugeStudy",
    "GaugeStudyOperator",
    "GaugeStudyPart",
    "Incident",
    "IncidentEffect",
    "IncidentState",
    "Level",
    "LoggedConditioning",
    "ModelDraft",
    "Protocol",
    "ProtocolDraft",
    "Reading",
    "Receipt",
    "ReceiptSource",
    "Result",
    "Rig",
    "ScoringModel",
    "ShoeScatter",
    "Source",
    "Specimen",
    "SpecimenKind",
    "StagedUpload",
    "State",
    "TemperatureState",
    "TemperatureStudy",
    "Upload",
    "UploadKind",
    "VariancePool",
]
