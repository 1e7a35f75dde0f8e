"""The addresses of "Where to start" and of asking for a fitting."""

from __future__ import annotations

from django.urls import path

from fittings.views import requests, start

app_name = "start"
urlpatterns = [
    path("", start.start, name="home"),
    path("ask/", requests.ask, name="ask"),
    path("asked/", requests.asked, name="asked"),
]
