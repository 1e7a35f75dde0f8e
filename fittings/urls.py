"""Addresses of the fittings' pages."""

from __future__ import annotations

from django.urls import path

from fittings import agreement_views, draft_views, follow_up_views, privacy_views, views

app_name = "fittings"
urlpatterns = [
    path("", views.home, name="home"),
    path("new/", draft_views.fitting_new, name="fitting-new"),
    path("drafts/<uuid:key>/", draft_views.draft, name="draft"),
    path("drafts/<uuid:key>/need/", draft_views.draft_need, name="draft-need"),
    path("drafts/<uuid:key>/people/", draft_views.draft_people, name="draft-people"),
    path("drafts/<uuid:key>/discard/", draft_views.draft_discard, name="draft-discard"),
    path("drafts/<uuid:key>/sections/<str:name>/", draft_views.draft_section, name="draft-section"),
    path("<int:pk>/", views.fitting_detail, name="fitting-detail"),
    path("<int:pk>/card/", follow_up_views.card, name="fitting-card"),
    path("<int:pk>/second-look/", agreement_views.second_look, name="second-look"),
    path("<int:pk>/try-on/", views.try_on_add, name="try-on-add"),
    path("<int:pk>/choice/", views.choice_add, name="choice-add"),
    path("customers/", privacy_views.customer_list, name="customer-list"),
    path("customers/<int:pk>/", privacy_views.customer_detail, name="customer-detail"),
    path("customers/<int:pk>/export/", privacy_views.customer_export, name="customer-export"),
    path("customers/<int:pk>/withdraw/", privacy_views.customer_withdraw, name="customer-withdraw"),
    path("customers/<int:pk>/erase/", privacy_views.customer_erase, name="customer-erase"),
    path("follow-ups/", follow_up_views.follow_up_list, name="follow-up-list"),
    path("follow-ups/<int:pk>/", follow_up_views.follow_up_answer, name="follow-up-answer"),
    path("follow-ups/<int:pk>/not-reached/", follow_up_views.not_reached, name="follow-up-not-reached"),
    path("follow-ups/<int:pk>/contact/", follow_up_views.contact_save, name="follow-up-contact"),
    path("follow-ups/<int:pk>/mail/", follow_up_views.mail_set, name="follow-up-mail"),
]
