"""Addresses of the fittings' pages."""

from __future__ import annotations

from django.urls import path

from fittings import privacy_views, views

app_name = "fittings"
urlpatterns = [
    path("", views.home, name="home"),
    path("new/", views.fitting_new, name="fitting-new"),
    path("<int:pk>/", views.fitting_detail, name="fitting-detail"),
    path("<int:pk>/try-on/", views.try_on_add, name="try-on-add"),
    path("<int:pk>/choice/", views.choice_add, name="choice-add"),
    path("customers/", privacy_views.customer_list, name="customer-list"),
    path("customers/<int:pk>/", privacy_views.customer_detail, name="customer-detail"),
    path("customers/<int:pk>/export/", privacy_views.customer_export, name="customer-export"),
    path("customers/<int:pk>/withdraw/", privacy_views.customer_withdraw, name="customer-withdraw"),
    path("customers/<int:pk>/erase/", privacy_views.customer_erase, name="customer-erase"),
    path("follow-ups/", views.follow_up_list, name="follow-up-list"),
    path("follow-ups/<int:pk>/", views.follow_up_answer, name="follow-up-answer"),
]
