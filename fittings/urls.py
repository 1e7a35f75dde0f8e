"""Addresses of the fittings' pages."""

from __future__ import annotations

from django.urls import path

from fittings import views

app_name = "fittings"
urlpatterns = [
    path("", views.home, name="home"),
    path("new/", views.fitting_new, name="fitting-new"),
    path("<int:pk>/", views.fitting_detail, name="fitting-detail"),
    path("<int:pk>/try-on/", views.try_on_add, name="try-on-add"),
    path("<int:pk>/choice/", views.choice_add, name="choice-add"),
    path("follow-ups/", views.follow_up_list, name="follow-up-list"),
    path("follow-ups/<int:pk>/", views.follow_up_answer, name="follow-up-answer"),
]
