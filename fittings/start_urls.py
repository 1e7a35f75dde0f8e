"""The addresses of "Where to start" of asking for a fitting, and of the practice's own outcomes."""

from __future__ import annotations

from django.urls import path

from fittings.views.outcomes import evidence
from fittings.views.people import requests, start

app_name = "start"
urlpatterns = [
    path("", start.start, name="home"),
    path("ask/", requests.ask, name="ask"),
    path("evidence/", evidence.evidence, name="evidence"),
    path("asked/", requests.asked, name="asked"),
]
