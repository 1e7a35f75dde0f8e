"""Addresses of the lab's pages."""

from __future__ import annotations

from django.urls import path

from labtests.views import (
    audit,
    bench_day,
    bench_tests,
    comparing,
    conditioning,
    hand_entry,
    home,
    rigs,
    shoes,
    uploads,
)

app_name = "labtests"
urlpatterns = [
    path("", home.home, name="home"),
    path("bench/", bench_day.bench_day, name="bench-day"),
    path("bench/in/", bench_day.specimen_put_in, name="specimen-in"),
    path("conditioning/", conditioning.entry_list, name="conditioning-list"),
    path("conditioning/<int:pk>/", conditioning.entry_detail, name="conditioning-detail"),
    path("conditioning/<int:pk>/out/", conditioning.specimen_take_out, name="specimen-out"),
    path("conditioning/<int:pk>/strike/", conditioning.entry_strike, name="conditioning-strike"),
    path("chambers/", conditioning.chamber_list, name="chamber-list"),
    path("chambers/new/", conditioning.chamber_create, name="chamber-create"),
    path("uploads/", uploads.upload_list, name="upload-list"),
    path("uploads/new/", uploads.upload_create, name="upload-create"),
    path("uploads/look/<uuid:batch>/", uploads.upload_preview, name="upload-preview"),
    path("uploads/<int:pk>/", uploads.upload_detail, name="upload-detail"),
    path("uploads/<int:pk>/raw/", uploads.upload_raw, name="upload-raw"),
    path("tests/", bench_tests.test_list, name="test-list"),
    path("new-test/", hand_entry.test_type_in, name="test-type-in"),
    path("tests/<int:pk>/", bench_tests.test_detail, name="test-detail"),
    path("tests/<int:pk>/review/", bench_tests.test_review, name="test-review"),
    path("tests/<int:pk>/curves/", bench_tests.test_curves, name="test-curves"),
    path("tests/<int:pk>/amend/", bench_tests.test_amend, name="test-amend"),
    path("shoes/", shoes.shoe_list, name="shoe-list"),
    path("shoes/<slug:slug>/", shoes.shoe_detail, name="shoe-detail"),
    path("shoes/<slug:slug>/compare/", comparing.specimen_compare, name="specimen-compare"),
    path("shoes/<slug:slug>/publish/", shoes.shoe_publish, name="shoe-publish"),
    path("rigs/", rigs.rig_list, name="rig-list"),
    path("new-rig/", rigs.rig_create, name="rig-create"),
    path("rigs/<str:code>/", rigs.rig_detail, name="rig-detail"),
    path("rigs/<str:code>/calibrations/", rigs.calibration_create, name="calibration-create"),
    path("rigs/<str:code>/stop/", rigs.rig_stop, name="rig-stop"),
    path("rigs/<str:code>/clear/", rigs.rig_clear, name="rig-clear"),
    path("audit/", audit.audit_list, name="audit-list"),
    path("audit/<int:pk>/", audit.audit_detail, name="audit-detail"),
]
