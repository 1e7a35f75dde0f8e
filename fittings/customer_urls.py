"""Addresses that a customer reaches through a signed link."""

from __future__ import annotations

from django.urls import path

from fittings import customer_views

app_name = "customer"
urlpatterns = [
    path("<str:token>/", customer_views.card, name="card"),
    path("<str:token>/answer/", customer_views.answer, name="answer"),
    path("<str:token>/no-more-letters/", customer_views.mail_stop, name="mail-stop"),
]
