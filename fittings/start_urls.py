"""The address of "Where to start"."""

from __future__ import annotations

from django.urls import path

from fittings.views import start

app_name = "start"
urlpatterns = [path("", start.start, name="home")]
