"""Addresses of the catalogue's API."""

from __future__ import annotations

from django.urls import path

from catalogue import api

app_name = "catalogue-api"
urlpatterns = [
    path("shoes/", api.ShoeListView.as_view(), name="shoe-list"),
    path("shoes/<slug:slug>/", api.ShoeDetailView.as_view(), name="shoe-detail"),
    path("shoes/<slug:slug>/similar/", api.ShoeSimilarView.as_view(), name="shoe-similar"),
    path("bands/", api.BandListView.as_view(), name="band-list"),
    path("stores/", api.StoreListView.as_view(), name="store-list"),
]
