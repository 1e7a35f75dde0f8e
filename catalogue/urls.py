"""Addresses of the public pages."""

from __future__ import annotations

from django.urls import path

from catalogue.views import (
    discovery,
    gaps,
    method,
    photos,
    pictures,
    shoe_import,
    shoe_list,
    shoes,
    stock,
    stores,
    wall_cards,
    wishes,
)

app_name = "catalogue"
urlpatterns = [
    path("", shoe_list.shoe_list, name="shoe-list"),
    path("shoes/<slug:slug>/", shoes.shoe_detail, name="shoe-detail"),
    path("shoes/<slug:slug>/similar/", shoes.shoe_similar, name="shoe-similar"),
    path("shoes/<slug:slug>/picture.png", pictures.shoe_picture, name="shoe-picture"),
    path("catalogue/shoes/<slug:slug>/photo/", photos.shoe_photo, name="shoe-photo"),
    path("photos/<slug:digest>-<int:width>.webp", photos.photo, name="photo-file"),
    path("picture.png", pictures.catalogue_picture, name="picture"),
    path("compare/", shoes.shoe_compare, name="shoe-compare"),
    path("replace/", shoes.shoe_replace, name="shoe-replace"),
    path("stores/", stores.store_list, name="store-list"),
    path("stores/<slug:slug>/", stores.store_detail, name="store-detail"),
    path("how-we-measure/", method.how_we_measure, name="method"),
    path("robots.txt", discovery.robots, name="robots"),
    path("sitemap.xml", discovery.sitemap_index, name="sitemap"),
    path("sitemap-<int:part>.xml", discovery.sitemap_part, name="sitemap-part"),
    path("wall/stock/", stock.stock_home, name="stock-home"),
    path("wall/stock/<slug:slug>/", stock.stock_edit, name="stock-edit"),
    path("wall/stock/<slug:slug>/file/", stock.stock_file, name="stock-file"),
    path("wall/stock/<slug:slug>/count/", stock.stock_count, name="stock-count"),
    path("wall/wishes/", wishes.wish_home, name="wish-home"),
    path("wall/wishes/<slug:slug>/", wishes.wish_store, name="wish-store"),
    path("catalogue/import/", shoe_import.shoe_import, name="shoe-import"),
    path("catalogue/import/template/", shoe_import.shoe_import_template, name="shoe-import-template"),
    path("catalogue/wishes/", wishes.wish_list, name="wish-list"),
    path("catalogue/wishes/<int:pk>/", wishes.wish_detail, name="wish-detail"),
    path("wall/gaps/", gaps.gap_home, name="gap-home"),
    path("wall/gaps/<slug:slug>/", gaps.gap_detail, name="gap-detail"),
    path("wall/cards/", wall_cards.wall_card_home, name="wall-card-home"),
    path("wall/cards/<slug:slug>/", wall_cards.wall_card_list, name="wall-card-list"),
    path("wall/cards/<slug:slug>/<int:pk>/", wall_cards.wall_card_sheets, name="wall-card-sheets"),
    path("wall/cards/<slug:slug>/<int:pk>/withdraw/", wall_cards.wall_card_withdraw, name="wall-card-withdraw"),
]
