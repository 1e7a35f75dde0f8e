"""Addresses of the public pages."""

from __future__ import annotations

from django.urls import path

from catalogue import discovery, shoe_views, views

app_name = "catalogue"
urlpatterns = [
    path("", views.shoe_list, name="shoe-list"),
    path("shoes/<slug:slug>/", shoe_views.shoe_detail, name="shoe-detail"),
    path("shoes/<slug:slug>/similar/", shoe_views.shoe_similar, name="shoe-similar"),
    path("compare/", shoe_views.shoe_compare, name="shoe-compare"),
    path("replace/", shoe_views.shoe_replace, name="shoe-replace"),
    path("stores/", views.store_list, name="store-list"),
    path("stores/<slug:slug>/", views.store_detail, name="store-detail"),
    path("how-we-measure/", views.how_we_measure, name="method"),
    path("robots.txt", discovery.robots, name="robots"),
    path("sitemap.xml", discovery.sitemap_index, name="sitemap"),
    path("sitemap-<int:part>.xml", discovery.sitemap_part, name="sitemap-part"),
]
