"""Addresses of the outcomes, of shoes in use, and of the rules of the need."""

from __future__ import annotations

from django.urls import path

from fittings.views.fitting import referral_rules, rules
from fittings.views.outcomes import agreement, demand, evidence, outcomes, statistics

app_name = "outcomes"
urlpatterns = [
    path("", outcomes.outcomes, name="home"),
    path("model/", outcomes.outcome_model, name="model"),
    path("agreement/", agreement.agreement, name="agreement"),
    path("demand/", demand.demand, name="demand"),
    path("shoes/", demand.shoe_list, name="shoe-list"),
    path("statistics/", statistics.statistics, name="statistics"),
    path("public-page/", evidence.evidence_office, name="evidence"),
    path("public-page/<int:pk>/publish/", evidence.evidence_confirm, name="evidence-publish"),
    path("public-page/<int:pk>/withdraw/", evidence.evidence_end, name="evidence-withdraw"),
    path("rules/", rules.need_rules_list, name="rules-list"),
    path("rules/new/", rules.need_rules_new, name="rules-new"),
    path("rules/<int:pk>/", rules.need_rules_detail, name="rules-detail"),
    path("rules/<int:pk>/adopt/", rules.need_rules_adoption, name="rules-adopt"),
    path("rules/<int:pk>/discard/", rules.need_rules_removal, name="rules-discard"),
    path("referral-rules/", referral_rules.referral_list, name="referral-list"),
    path("referral-rules/new/", referral_rules.referral_new, name="referral-new"),
    path("referral-rules/<int:pk>/", referral_rules.referral_detail, name="referral-detail"),
    path("referral-rules/<int:pk>/adopt/", referral_rules.referral_adoption, name="referral-adopt"),
    path("referral-rules/<int:pk>/discard/", referral_rules.referral_removal, name="referral-discard"),
]
