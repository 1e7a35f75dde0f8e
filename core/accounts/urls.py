"""Addresses for sign-in, accounts, staff and stores; included by `core.urls`."""

from __future__ import annotations

from django.urls import path

from core.accounts.views import first_steps, office, own, security_log, sign_in, staff, welcome

urlpatterns = [
    path("sign-in/", sign_in.sign_in, name="sign-in"),
    path("sign-in/code/", sign_in.second_step, name="second-step"),
    path("welcome/<int:pk>/<str:token>/", welcome.welcome, name="welcome"),
    path("account/", own.account, name="account"),
    path("account/password/", own.password_change, name="password-change"),
    path("account/e-mail/", own.email_change, name="email-change"),
    path("account/sessions/end/", own.sessions_end, name="sessions-end"),
    path("account/second-factor/", own.second_factor_setup, name="second-factor"),
    path("account/second-factor/confirm/", own.second_factor_confirm, name="second-factor-confirm"),
    path("account/second-factor/remove/", own.second_factor_remove, name="second-factor-remove"),
    path("account/second-factor/recovery-codes/", own.recovery_codes, name="recovery-codes"),
    path("account/tokens/new/", own.token_new, name="token-new"),
    path("account/tokens/revoke/", own.token_revoke, name="token-revoke"),
    path("office/first-steps/", first_steps.first_steps_page, name="first-steps"),
    path("office/accounts/", office.account_list_page, name="account-list"),
    path("office/accounts/new/", office.account_new, name="account-new"),
    path("office/accounts/<int:pk>/", office.account_detail, name="account-detail"),
    path("office/accounts/<int:pk>/name/", office.account_rename, name="account-rename"),
    path("office/accounts/<int:pk>/roles/", office.role_grant, name="role-grant"),
    path("office/accounts/<int:pk>/roles/<int:membership>/withdraw/", office.role_withdraw, name="role-withdraw"),
    path("office/accounts/<int:pk>/tokens/<str:start>/revoke/", office.token_revoke, name="account-token-revoke"),
    *(
        path(f"office/accounts/<int:pk>/{action}/", office.account_action, {"action": action}, name=f"account-{action}")
        for action in office.ACTIONS
    ),
    *(
        path(
            f"office/requests/<int:pk>/{decision}/",
            office.request_decide,
            {"decision": decision},
            name=f"request-{decision}",
        )
        for decision in office.DECISIONS
    ),
    path("office/security-log/", security_log.security_log, name="security-log"),
    path("office/stores/", office.store_list, name="store-list"),
    path("office/stores/new/", office.store_new, name="store-new"),
    path("office/stores/<slug:slug>/edit/", office.store_edit, name="store-edit"),
    path("staff/", staff.staff_list, name="staff-list"),
    path("staff/<slug:slug>/fitters/new/", staff.fitter_new, name="fitter-new"),
    path("staff/<slug:slug>/fitters/add/", staff.fitter_add, name="fitter-add"),
    path("staff/<slug:slug>/fitters/<int:membership>/withdraw/", staff.fitter_withdraw, name="fitter-withdraw"),
]
