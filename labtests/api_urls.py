"""Addresses of the lab's API."""

from __future__ import annotations

from django.urls import path

from labtests.api import (
    audit,
    bench_tests,
    calibrations,
    check_shoes,
    comparing,
    components,
    conditioning,
    deciding,
    incidents,
    scoring_models,
    specimens,
)

app_name = "labtests-api"
urlpatterns = [
    path("audit/", audit.AuditList.as_view(), name="audit-list"),
    path("audit/<int:pk>/", audit.AuditDetail.as_view(), name="audit-detail"),
    path("bench/", conditioning.BenchDayView.as_view(), name="bench-day"),
    path("chambers/", conditioning.ChamberList.as_view(), name="chamber-list"),
    path("conditioning/", conditioning.ConditioningList.as_view(), name="conditioning-list"),
    path("conditioning/<int:pk>/out/", conditioning.ConditioningOut.as_view(), name="conditioning-out"),
    path("conditioning/<int:pk>/strike/", conditioning.ConditioningStrike.as_view(), name="conditioning-strike"),
    path("incidents/", incidents.IncidentList.as_view(), name="incident-list"),
    path("uploads/", bench_tests.UploadList.as_view(), name="upload-list"),
    path("tests/", bench_tests.TestList.as_view(), name="test-list"),
    path("tests/decide/", deciding.TestsDecide.as_view(), name="tests-decide"),
    path("tests/<int:pk>/", bench_tests.TestDetail.as_view(), name="test-detail"),
    path("tests/<int:pk>/audit/", bench_tests.TestAudit.as_view(), name="test-audit"),
    path("tests/<int:pk>/review/", bench_tests.TestReview.as_view(), name="test-review"),
    path("shoes/<slug:slug>/compare/", comparing.ShoeCompare.as_view(), name="shoe-compare"),
    path("rigs/<str:code>/check/", check_shoes.RigCheck.as_view(), name="rig-check"),
    path("rigs/<str:code>/check/retire/", check_shoes.RigCheckRetire.as_view(), name="rig-check-retire"),
    path("rigs/<str:code>/calibrations/", calibrations.RigCalibrations.as_view(), name="rig-calibrations"),
    path("calibrations/<int:pk>/sign/", calibrations.CalibrationSign.as_view(), name="calibration-sign"),
    path("calibrations/<int:pk>/strike/", calibrations.CalibrationStrike.as_view(), name="calibration-strike"),
    path("chambers/<str:code>/climate/", calibrations.ChamberClimate.as_view(), name="chamber-climate"),
    path("rigs/<str:code>/clear/", check_shoes.RigClear.as_view(), name="rig-clear"),
    path("studies/", check_shoes.StudyList.as_view(), name="study-list"),
    path("studies/<int:pk>/", check_shoes.StudyDetail.as_view(), name="study-detail"),
    path("precision/", check_shoes.PrecisionDetail.as_view(), name="precision"),
    path("components/", components.ComponentList.as_view(), name="component-list"),
    path("planner/", components.Planner.as_view(), name="planner"),
    path("retests/", specimens.RetestList.as_view(), name="retest-list"),
    path("specimens/", specimens.SpecimenList.as_view(), name="specimen-list"),
    path("specimens/<str:code>/", specimens.SpecimenDetail.as_view(), name="specimen-detail"),
    path("specimens/<str:code>/move/", specimens.SpecimenMove.as_view(), name="specimen-move"),
    path("specimens/<str:code>/dispose/", specimens.SpecimenDispose.as_view(), name="specimen-dispose"),
    path("specimens/<str:code>/wear/", check_shoes.SpecimenWear.as_view(), name="specimen-wear"),
    path("models/", scoring_models.ModelList.as_view(), name="model-list"),
    path("models/<str:version>/", scoring_models.ModelDetail.as_view(), name="model-detail"),
    path("models/<str:version>/dry-run/", scoring_models.ModelDryRun.as_view(), name="model-dry-run"),
    path("models/<str:version>/adopt/", scoring_models.ModelAdopt.as_view(), name="model-adopt"),
    path("shoes/<slug:slug>/publish/", bench_tests.ShoePublish.as_view(), name="shoe-publish"),
]
