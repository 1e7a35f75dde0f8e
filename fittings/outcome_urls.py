"""Addresses of the outcomes, of shoes in use, and of the rules of the need."""

from __future__ import annotations

from django.urls import path

from fittings import agreement_views, demand_views, outcome_views, rules_views

app_name = "outcomes"
urlpatterns = [
    path("", outcome_views.outcomes, name="home"),
    path("model/", outcome_views.outcome_model, name="model"),
    path("agreement/", agreement_views.agreement, name="agreement"),
    path("demand/", demand_views.demand, name="demand"),
    path("shoes/", demand_views.shoe_list, name="shoe-list"),
    path("rules/", rules_views.need_rules_list, name="rules-list"),
    path("rules/new/", rules_views.need_rules_new, name="rules-new"),
    path("rules/<int:pk>/", rules_views.need_rules_detail, name="rules-detail"),
    path("rules/<int:pk>/adopt/", rules_views.need_rules_adoption, name="rules-adopt"),
    path("rules/<int:pk>/discard/", rules_views.need_rules_removal, name="rules-discard"),
]
