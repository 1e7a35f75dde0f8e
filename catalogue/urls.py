"""Addresses of the public pages."""

from __future__ import annotations

from django.urls import path

from catalogue import views

app_name = "catalogue"
urlpatterns = [
    path("", views.shoe_list, name="shoe-list"),
    path("shoes/<slug:slug>/", views.shoe_detail, name="shoe-detail"),
    path("shoes/<slug:slug>/similar/", views.shoe_similar, name="shoe-similar"),
    path("compare/", views.shoe_compare, name="shoe-compare"),
    path("stores/", views.store_list, name="store-list"),
    path("stores/<slug:slug>/", views.store_detail, name="store-detail"),
    path("how-we-measure/", views.how_we_measure, name="method"),
]
