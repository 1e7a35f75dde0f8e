"""Addresses of the public pages."""

from __future__ import annotations

from django.urls import path

from catalogue import (
    discovery,
    gap_views,
    picture_views,
    shoe_views,
    stock_views,
    store_views,
    views,
    wall_card_views,
)

app_name = "catalogue"
urlpatterns = [
    path("", views.shoe_list, name="shoe-list"),
    path("shoes/<slug:slug>/", shoe_views.shoe_detail, name="shoe-detail"),
    path("shoes/<slug:slug>/similar/", shoe_views.shoe_similar, name="shoe-similar"),
    path("shoes/<slug:slug>/picture.png", picture_views.shoe_picture, name="shoe-picture"),
    path("picture.png", picture_views.catalogue_picture, name="picture"),
    path("compare/", shoe_views.shoe_compare, name="shoe-compare"),
    path("replace/", shoe_views.shoe_replace, name="shoe-replace"),
    path("stores/", store_views.store_list, name="store-list"),
    path("stores/<slug:slug>/", store_views.store_detail, name="store-detail"),
    path("how-we-measure/", views.how_we_measure, name="method"),
    path("robots.txt", discovery.robots, name="robots"),
    path("sitemap.xml", discovery.sitemap_index, name="sitemap"),
    path("sitemap-<int:part>.xml", discovery.sitemap_part, name="sitemap-part"),
    path("wall/stock/", stock_views.stock_home, name="stock-home"),
    path("wall/stock/<slug:slug>/", stock_views.stock_edit, name="stock-edit"),
    path("wall/stock/<slug:slug>/file/", stock_views.stock_file, name="stock-file"),
    path("wall/stock/<slug:slug>/count/", stock_views.stock_count, name="stock-count"),
    path("wall/gaps/", gap_views.gap_home, name="gap-home"),
    path("wall/gaps/<slug:slug>/", gap_views.gap_detail, name="gap-detail"),
    path("wall/cards/", wall_card_views.wall_card_home, name="wall-card-home"),
    path("wall/cards/<slug:slug>/", wall_card_views.wall_card_list, name="wall-card-list"),
    path("wall/cards/<slug:slug>/<int:pk>/", wall_card_views.wall_card_sheets, name="wall-card-sheets"),
    path("wall/cards/<slug:slug>/<int:pk>/withdraw/", wall_card_views.wall_card_withdraw, name="wall-card-withdraw"),
]
