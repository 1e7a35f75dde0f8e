"""Addresses of the fittings' API."""

from __future__ import annotations

from django.urls import path

from fittings import api, privacy_api

app_name = "fittings-api"
urlpatterns = [
    path("fittings/", api.FittingList.as_view(), name="fitting-list"),
    path("fittings/<int:pk>/recommendations/", api.FittingRecommendations.as_view(), name="fitting-recommendations"),
    path("fittings/<int:pk>/choice/", api.FittingChoice.as_view(), name="fitting-choice"),
    path("follow-ups/", api.FollowUpList.as_view(), name="follow-up-list"),
    path("follow-ups/<int:pk>/answer/", api.FollowUpAnswerView.as_view(), name="follow-up-answer"),
    path("customers/look-up/", privacy_api.CustomerLookUp.as_view(), name="customer-look-up"),
    path("customers/<int:pk>/export/", privacy_api.CustomerExport.as_view(), name="customer-export"),
    path("customers/<int:pk>/withdraw/", privacy_api.CustomerWithdrawal.as_view(), name="customer-withdraw"),
    path("customers/<int:pk>/erase/", privacy_api.CustomerErasure.as_view(), name="customer-erase"),
]
