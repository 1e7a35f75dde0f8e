"""Addresses of core."""

from __future__ import annotations

from django.urls import path

from core.accounts import urls as account_urls
from core.operations import views as operations
from core.web import views

app_name = "core"
urlpatterns = [
    path("sign-out/", views.sign_out, name="sign-out"),
    path("home/", views.home, name="home"),
    path("units/", views.units_set, name="units-set"),
    path("healthz", operations.healthz, name="healthz"),
    path("readyz", operations.readyz, name="readyz"),
    path("metrics", operations.metrics_text, name="metrics"),
    path("api/schema/", views.SchemaView.as_view(), name="schema"),
    *account_urls.urlpatterns,
]
