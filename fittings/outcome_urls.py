"""Addresses of the outcomes."""

from __future__ import annotations

from django.urls import path

from fittings import views

app_name = "outcomes"
urlpatterns = [path("", views.outcomes, name="home")]
