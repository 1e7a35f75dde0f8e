"""Addresses of the fittings' API."""

from __future__ import annotations

from django.urls import path

from fittings.api import fittings, looks, privacy, requests, statistics

app_name = "fittings-api"
urlpatterns = [
    path("fittings/", fittings.FittingList.as_view(), name="fitting-list"),
    path(
        "fittings/<int:pk>/recommendations/", fittings.FittingRecommendations.as_view(), name="fitting-recommendations"
    ),
    path("fittings/<int:pk>/choice/", fittings.FittingChoice.as_view(), name="fitting-choice"),
    path(
        "fittings/<int:pk>/choice/<int:choice>/correct/",
        fittings.FittingChoiceCorrection.as_view(),
        name="fitting-choice-correct",
    ),
    path("fittings/<int:pk>/links/end/", fittings.FittingLinks.as_view(), name="fitting-links-end"),
    path("fittings/<int:pk>/looks/<int:number>/correct/", looks.LookCorrection.as_view(), name="look-correct"),
    path("fittings/<int:pk>/looks/", looks.LooksOfFitting.as_view(), name="fitting-looks"),
    path("fittings/requests/", requests.RequestList.as_view(), name="request-list"),
    path("fittings/requests/<int:pk>/", requests.RequestDetail.as_view(), name="request-detail"),
    path("follow-ups/", fittings.FollowUpList.as_view(), name="follow-up-list"),
    path("follow-ups/<int:pk>/answer/", fittings.FollowUpAnswerView.as_view(), name="follow-up-answer"),
    path("customers/look-up/", privacy.CustomerLookUp.as_view(), name="customer-look-up"),
    path("customers/<int:pk>/export/", privacy.CustomerExport.as_view(), name="customer-export"),
    path("customers/<int:pk>/withdraw/", privacy.CustomerWithdrawal.as_view(), name="customer-withdraw"),
    path("customers/<int:pk>/erase/", privacy.CustomerErasure.as_view(), name="customer-erase"),
    path("outcomes/statistics/", statistics.StatisticsExportView.as_view(), name="statistics-export"),
]
