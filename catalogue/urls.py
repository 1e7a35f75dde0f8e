"""Addresses of the public pages."""

from __future__ import annotations

from django.urls import path

from catalogue.views import (
    brands,
    discovery,
    gaps,
    method,
    other_shoes,
    pictures,
    shoe_list,
    shoe_records,
    shoes,
    stock,
    stores,
    wall_cards,
)

app_name = "catalogue"
urlpatterns = [
    path("", shoe_list.shoe_list, name="shoe-list"),
    path("shoes/<slug:slug>/", shoes.shoe_detail, name="shoe-detail"),
    path("shoes/<slug:slug>/similar/", shoes.shoe_similar, name="shoe-similar"),
    path("shoes/<slug:slug>/picture.png", pictures.shoe_picture, name="shoe-picture"),
    path("picture.png", pictures.catalogue_picture, name="picture"),
    path("compare/", shoes.shoe_compare, name="shoe-compare"),
    path("replace/", shoes.shoe_replace, name="shoe-replace"),
    path("stores/", stores.store_list, name="store-list"),
    path("stores/<slug:slug>/", stores.store_detail, name="store-detail"),
    path("how-we-measure/", method.how_we_measure, name="method"),
    path("robots.txt", discovery.robots, name="robots"),
    path("sitemap.xml", discovery.sitemap_index, name="sitemap"),
    path("sitemap-<int:part>.xml", discovery.sitemap_part, name="sitemap-part"),
    path("catalogue/shoes/", shoe_records.record_list_page, name="record-list"),
    path("catalogue/new-shoe/", shoe_records.record_new, name="record-new"),
    path("catalogue/shoes/<slug:slug>/", shoe_records.record_detail, name="record-detail"),
    path("catalogue/shoes/<slug:slug>/correct/", shoe_records.record_correct, name="record-correct"),
    path("catalogue/shoes/<slug:slug>/discontinue/", shoe_records.record_discontinue, name="record-discontinue"),
    path("catalogue/shoes/<slug:slug>/previous/", other_shoes.record_previous, name="record-previous"),
    path("catalogue/shoes/<slug:slug>/next/", other_shoes.record_next, name="record-next"),
    path("catalogue/shoes/<slug:slug>/unlink/", other_shoes.record_unlink, name="record-unlink"),
    path("catalogue/shoes/<slug:slug>/merge/", other_shoes.record_merge, name="record-merge"),
    path("catalogue/brands/", brands.brand_list_page, name="brand-list"),
    path("catalogue/new-brand/", brands.brand_new, name="brand-new"),
    path("catalogue/brands/<slug:slug>/", brands.brand_detail, name="brand-detail"),
    path("wall/stock/", stock.stock_home, name="stock-home"),
    path("wall/stock/<slug:slug>/", stock.stock_edit, name="stock-edit"),
    path("wall/stock/<slug:slug>/file/", stock.stock_file, name="stock-file"),
    path("wall/stock/<slug:slug>/count/", stock.stock_count, name="stock-count"),
    path("wall/gaps/", gaps.gap_home, name="gap-home"),
    path("wall/gaps/<slug:slug>/", gaps.gap_detail, name="gap-detail"),
    path("wall/cards/", wall_cards.wall_card_home, name="wall-card-home"),
    path("wall/cards/<slug:slug>/", wall_cards.wall_card_list, name="wall-card-list"),
    path("wall/cards/<slug:slug>/<int:pk>/", wall_cards.wall_card_sheets, name="wall-card-sheets"),
    path("wall/cards/<slug:slug>/<int:pk>/withdraw/", wall_cards.wall_card_withdraw, name="wall-card-withdraw"),
]
