"""Addresses that a customer reaches through a signed link."""

from __future__ import annotations

from django.urls import path

from fittings.views.people import customer_link

app_name = "customer"
urlpatterns = [
    path("<str:token>/", customer_link.card, name="card"),
    path("<str:token>/answer/", customer_link.answer, name="answer"),
    path("<str:token>/signs/", customer_link.signs, name="signs"),
    path("<str:token>/unsubscribe/", customer_link.mail_stop, name="mail-stop"),
]
