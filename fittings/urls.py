"""Addresses of the fittings' pages."""

from __future__ import annotations

from django.urls import path

from fittings.views import angles, draft, fittings, follow_ups, looks, notices, privacy, second_look, training

app_name = "fittings"
urlpatterns = [
    path("", fittings.home, name="home"),
    path("new/", draft.fitting_new, name="fitting-new"),
    path("drafts/<uuid:key>/", draft.draft, name="draft"),
    path("drafts/<uuid:key>/need/", draft.draft_need, name="draft-need"),
    path("drafts/<uuid:key>/people/", draft.draft_people, name="draft-people"),
    path("drafts/<uuid:key>/angle/", angles.draft_angle, name="draft-angle"),
    path("drafts/<uuid:key>/second-look/", second_look.draft_second_look, name="draft-second-look"),
    path("drafts/<uuid:key>/discard/", draft.draft_discard, name="draft-discard"),
    path("drafts/<uuid:key>/sections/<str:name>/", draft.draft_section, name="draft-section"),
    path("<int:pk>/", fittings.fitting_detail, name="fitting-detail"),
    path("<int:pk>/card/", follow_ups.card, name="fitting-card"),
    path("<int:pk>/second-look/", second_look.second_look, name="second-look"),
    path("<int:pk>/looks/", looks.looks_add, name="looks-add"),
    path("<int:pk>/try-on/", fittings.try_on_add, name="try-on-add"),
    path("<int:pk>/choice/", fittings.choice_add, name="choice-add"),
    path("customers/", privacy.customer_list, name="customer-list"),
    path("customers/<int:pk>/", privacy.customer_detail, name="customer-detail"),
    path("customers/<int:pk>/export/", privacy.customer_export, name="customer-export"),
    path("customers/<int:pk>/withdraw/", privacy.customer_withdraw, name="customer-withdraw"),
    path("customers/<int:pk>/erase/", privacy.customer_erase, name="customer-erase"),
    path("notices/", notices.notice_list, name="notice-list"),
    path("notices/<int:pk>/", notices.notice_detail, name="notice-detail"),
    path("training/", training.training, name="training"),
    path("training/cases/", training.cases, name="training-cases"),
    path("training/<int:pk>/", training.case_result, name="case-result"),
    path("follow-ups/", follow_ups.follow_up_list, name="follow-up-list"),
    path("follow-ups/<int:pk>/", follow_ups.follow_up_answer, name="follow-up-answer"),
    path("follow-ups/<int:pk>/not-reached/", follow_ups.not_reached, name="follow-up-not-reached"),
    path("follow-ups/<int:pk>/contact/", follow_ups.contact_save, name="follow-up-contact"),
    path("follow-ups/<int:pk>/mail/", follow_ups.mail_set, name="follow-up-mail"),
]
