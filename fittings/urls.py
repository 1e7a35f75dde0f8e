"""Addresses of the fittings' pages."""

from __future__ import annotations

from django.urls import path

from fittings.views import (
    agreement,
    concerns,
    corrections,
    customers,
    draft,
    fittings,
    follow_ups,
    letters,
    notices,
    privacy,
    requests,
    start_code,
)

app_name = "fittings"
urlpatterns = [
    path("", fittings.home, name="home"),
    path("new/", draft.fitting_new, name="fitting-new"),
    path("from-start/", start_code.from_start, name="from-start"),
    path("requests/<int:pk>/close/", requests.request_close, name="request-close"),
    path("drafts/<uuid:key>/", draft.draft, name="draft"),
    path("drafts/<uuid:key>/need/", draft.draft_need, name="draft-need"),
    path("drafts/<uuid:key>/people/", draft.draft_people, name="draft-people"),
    path("drafts/<uuid:key>/discard/", draft.draft_discard, name="draft-discard"),
    path("drafts/<uuid:key>/sections/<str:name>/", draft.draft_section, name="draft-section"),
    path("<int:pk>/", fittings.fitting_detail, name="fitting-detail"),
    path("<int:pk>/card/", follow_ups.card, name="fitting-card"),
    path("<int:pk>/second-look/", agreement.second_look, name="second-look"),
    path("<int:pk>/try-on/", fittings.try_on_add, name="try-on-add"),
    path("<int:pk>/choice/", fittings.choice_add, name="choice-add"),
    path("<int:pk>/letter/", letters.letter_new, name="letter-new"),
    path("<int:pk>/reply/", letters.reply_new, name="reply-new"),
    path("letters/<int:pk>/", letters.letter_detail, name="letter-detail"),
    path("answers/", concerns.concern_list, name="concern-list"),
    path("answers/<int:pk>/", concerns.concern_detail, name="concern-detail"),
    path("answers/<int:pk>/take/", concerns.concern_take, name="concern-take"),
    path("answers/<int:pk>/signs/", concerns.concern_signs, name="concern-signs"),
    path("answers/<int:pk>/close/", concerns.concern_close, name="concern-close"),
    path("<int:pk>/choice/<int:choice>/correct/", corrections.choice_correct, name="choice-correct"),
    path("customers/", privacy.customer_list, name="customer-list"),
    path("customers/<int:pk>/", customers.customer_detail, name="customer-detail"),
    path("customers/<int:pk>/contact/", customers.contact_add, name="contact-add"),
    path("customers/<int:pk>/correct/", customers.customer_correct, name="customer-correct"),
    path("customers/<int:pk>/move/", customers.customer_move, name="customer-move"),
    path("customers/<int:pk>/merge/", customers.customer_merge, name="customer-merge"),
    path("customers/<int:pk>/export/", privacy.customer_export, name="customer-export"),
    path("customers/<int:pk>/withdraw/", privacy.customer_withdraw, name="customer-withdraw"),
    path("customers/<int:pk>/erase/", privacy.customer_erase, name="customer-erase"),
    path("notices/", notices.notice_list, name="notice-list"),
    path("notices/<int:pk>/", notices.notice_detail, name="notice-detail"),
    path("follow-ups/", follow_ups.follow_up_list, name="follow-up-list"),
    path("follow-ups/<int:pk>/", follow_ups.follow_up_answer, name="follow-up-answer"),
    path("follow-ups/<int:pk>/amend/", corrections.answers_amend, name="follow-up-amend"),
    path("follow-ups/<int:pk>/not-reached/", follow_ups.not_reached, name="follow-up-not-reached"),
    path("follow-ups/<int:pk>/contact/", follow_ups.contact_save, name="follow-up-contact"),
    path("follow-ups/<int:pk>/mail/", follow_ups.mail_set, name="follow-up-mail"),
]
