"""Addresses of the catalogue's API."""

from __future__ import annotations

from django.urls import path

from catalogue.api import orders, photos, records, views, wishes

app_name = "catalogue-api"
urlpatterns = [
    path("brands/", records.BrandListView.as_view(), name="brand-list"),
    path("brands/<slug:slug>/", records.BrandDetailView.as_view(), name="brand-detail"),
    path("shoes/", views.ShoeListView.as_view(), name="shoe-list"),
    path("shoes/<slug:slug>/", views.ShoeDetailView.as_view(), name="shoe-detail"),
    path("shoes/<slug:slug>/similar/", views.ShoeSimilarView.as_view(), name="shoe-similar"),
    path("shoes/<slug:slug>/curves/", views.ShoeCurvesView.as_view(), name="shoe-curves"),
    path("shoes/<slug:slug>/merge/", records.ShoeMergeView.as_view(), name="shoe-merge"),
    path("shoes/<slug:slug>/photo/", photos.ShoePhotoView.as_view(), name="shoe-photo"),
    path("bands/", views.BandListView.as_view(), name="band-list"),
    path("stores/", views.StoreListView.as_view(), name="store-list"),
    path("stores/<slug:slug>/orders/", orders.StoreOrderView.as_view(), name="store-orders"),
    path("stores/<slug:slug>/wishes/", wishes.StoreWishView.as_view(), name="store-wishes"),
    path("wishes/", wishes.WishListView.as_view(), name="wish-list"),
    path("wishes/<int:pk>/", wishes.WishDetailView.as_view(), name="wish-detail"),
    path("wishes/<int:pk>/done/", wishes.WishDoneView.as_view(), name="wish-done"),
    path("wishes/<int:pk>/decline/", wishes.WishDeclineView.as_view(), name="wish-decline"),
]
