"""Addresses of sign-in, accounts, staff and stores; part of core's."""

from __future__ import annotations

from django.urls import path

from core import account_views, office_views, sign_in_views, staff_views

urlpatterns = [
    path("sign-in/", sign_in_views.sign_in, name="sign-in"),
    path("sign-in/code/", sign_in_views.second_step, name="second-step"),
    path("account/", account_views.account, name="account"),
    path("account/password/", account_views.password_change, name="password-change"),
    path("account/sessions/end/", account_views.sessions_end, name="sessions-end"),
    path("account/second-factor/", account_views.second_factor_setup, name="second-factor"),
    path("account/second-factor/confirm/", account_views.second_factor_confirm, name="second-factor-confirm"),
    path("account/second-factor/remove/", account_views.second_factor_remove, name="second-factor-remove"),
    path("account/second-factor/recovery-codes/", account_views.recovery_codes, name="recovery-codes"),
    path("account/tokens/new/", account_views.token_new, name="token-new"),
    path("account/tokens/revoke/", account_views.token_revoke, name="token-revoke"),
    path("office/accounts/", office_views.account_list_page, name="account-list"),
    path("office/accounts/new/", office_views.account_new, name="account-new"),
    path("office/accounts/<int:pk>/", office_views.account_detail, name="account-detail"),
    path("office/accounts/<int:pk>/name/", office_views.account_rename, name="account-rename"),
    path("office/accounts/<int:pk>/roles/", office_views.role_grant, name="role-grant"),
    path("office/accounts/<int:pk>/roles/<int:membership>/withdraw/", office_views.role_withdraw, name="role-withdraw"),
    path("office/accounts/<int:pk>/tokens/<str:start>/revoke/", office_views.token_revoke, name="account-token-revoke"),
    *(
        path(f"office/accounts/<int:pk>/{deed}/", office_views.account_deed, {"deed": deed}, name=f"account-{deed}")
        for deed in office_views.DEEDS
    ),
    path("office/stores/", office_views.store_list, name="store-list"),
    path("office/stores/new/", office_views.store_new, name="store-new"),
    path("office/stores/<slug:slug>/edit/", office_views.store_edit, name="store-edit"),
    path("staff/", staff_views.staff_list, name="staff-list"),
    path("staff/<slug:slug>/fitters/new/", staff_views.fitter_new, name="fitter-new"),
    path("staff/<slug:slug>/fitters/add/", staff_views.fitter_known, name="fitter-known"),
    path("staff/<slug:slug>/fitters/<int:membership>/withdraw/", staff_views.fitter_withdraw, name="fitter-withdraw"),
]
