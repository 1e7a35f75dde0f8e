"""Head office pages: accounts with their roles, and stores."""

from __future__ import annotations

from functools import partial
from typing import Any

from django.contrib import messages
from django.core.paginator import Paginator
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.views.decorators.cache import never_cache
from django.views.decorators.debug import sensitive_variables
from django.views.decorators.http import require_GET, require_http_methods, require_POST

from core.accounts import second_factor
from core.accounts import services as accounts
from core.accounts.confirm_action import Confirmation, confirm, show_link, show_password
from core.accounts.deciding import request_confirm, request_refuse
from core.accounts.forms import AccountFilterForm, AccountForm, DetailsForm, NewStoreForm, RoleForm, StoreForm
from core.accounts.links import NewLink, account_invite, link_renew
from core.accounts.provisioning import store_create, token_start
from core.accounts.selectors import (
    account_changes,
    account_get,
    account_list,
    open_requests,
    token_by_start,
    tokens_of,
)
from core.accounts.two_accounts import act_ask, takes_two
from core.audit import sentence
from core.gate.access import gate
from core.models import AccountAct, AccountRequest, Membership, Store, User
from core.web.forms import problems_in, status_of
from core.web.requests import actor_of

ACCOUNTS_PER_PAGE = 50

ACTIONS = {
    "switch-off": Confirmation(
        "Switch off the account",
        "Nobody can sign in to this account any more. Its sessions end at once and its API tokens are revoked. "
        "Its roles remain in case the account is switched on again.",
        "Switch off the account",
        "The account is switched off.",
    ),
    "switch-on": Confirmation(
        "Switch on the account",
        "Its user can sign in again with the password and roles the account had before.",
        "Switch on the account",
        "The account is switched on.",
    ),
    "new-password": Confirmation(
        "Set a temporary password",
        "The current password stops working, every session ends and the account is unlocked. The temporary password "
        "is shown to you once. Its user must choose a new password at the next sign-in.",
        "Set a temporary password",
        "",
    ),
    "new-link": Confirmation(
        "Create a single-use link",
        "The current password stops working, every session ends and the account is unlocked. The link is shown to you "
        "once. Whoever opens it first chooses the new password, so hand it to the account’s owner only.",
        "Create the link",
        "",
    ),
    "second-factor": Confirmation(
        "Remove the second factor",
        "For somebody who has lost their device. All their sessions end, and the password alone is enough to sign in "
        "until they set up a second factor again. Make sure the request really comes from them.",
        "Remove the second factor",
        "The second factor was removed.",
    ),
}
SERVICES: dict[str, Any] = {
    "switch-off": accounts.account_switch_off,
    "switch-on": accounts.account_switch_on,
    "new-password": accounts.password_reset,
    "new-link": link_renew,
    "second-factor": second_factor.second_factor_lift,
}
WAITS = "A colleague at head office has to confirm this. Until then nothing changes."
DECISIONS: dict[str, tuple[Confirmation, Any]] = {
    "confirm": (
        Confirmation(
            "Confirm a colleague’s request",
            "It takes effect at once. Make sure that you know the reason, and ask the person concerned if it is about "
            "their access. A new password or link is shown to you once.",
            "Confirm",
            "The request was confirmed and carried out.",
        ),
        request_confirm,
    ),
    "refuse": (
        Confirmation(
            "Refuse the request",
            "Nothing is changed. The person who asked sees your reason here.",
            "Refuse",
            "The request was refused.",
        ),
        request_refuse,
    ),
}
WITHDRAWAL = Confirmation(
    "Withdraw a role",
    "The user loses the access that this role gives, at once and for API tokens too. The account remains.",
    "Withdraw the role",
    "The role was withdrawn.",
)
REVOCATION = Confirmation(
    "Revoke an API token",
    "Programs that use this token will be refused from now on.",
    "Revoke the token",
    "The token was revoked.",
)


@gate("core.account:manage")
@require_GET
def account_list_page(request: HttpRequest) -> HttpResponse:
    form = AccountFilterForm(request.GET)
    page = Paginator(account_list(form.wanted()), ACCOUNTS_PER_PAGE).get_page(request.GET.get("page"))
    context = {"form": form, "page": page, "requests": open_requests()}
    return render(request, "core/account_list.html", context, status=status_of(form))


@gate("core.account:manage")
@sensitive_variables("account", "link")
@never_cache
@require_http_methods(["GET", "POST"])
def account_new(request: HttpRequest) -> HttpResponse:
    """Create an account; its link or temporary password is shown in this response and never again."""
    form = AccountForm(request.POST or None)
    if request.method == "POST" and form.is_valid():
        by_link = form.take_first_sign_in()
        with problems_in(form):
            if by_link:
                link = account_invite(actor=actor_of(request), **form.cleaned_data)
                return show_link(request, link, back=_page_of(link.user.pk))
            account = accounts.account_open(actor=actor_of(request), **form.cleaned_data)
            return show_password(request, account, back=_page_of(account.user.pk))
    return render(request, "core/account_new.html", {"form": form}, status=status_of(form))


def _page_of(pk: int) -> str:
    return reverse("core:account-detail", args=[pk])


@gate("core.account:manage")
@never_cache
@require_GET
def account_detail(request: HttpRequest, pk: int) -> HttpResponse:
    return _detail(request, account_get(pk))


def _detail(request: HttpRequest, user: User, *, status: int = 200, **forms: Any) -> HttpResponse:
    """Show an account; a form that was refused replaces the empty one."""
    context = {
        "person": user,
        "is_own": user.pk == request.user.pk,
        "memberships": user.memberships_held(),
        "requests": open_requests().filter(user=user),
        "tokens": [(token_start(row), row) for row in tokens_of(user)],
        "changes": [(sentence(entry), entry) for entry in account_changes(user)],
        "role_form": RoleForm(prefix="role"),
        "name_form": DetailsForm(
            initial={name: getattr(user, name) for name in DetailsForm.base_fields}, prefix="name"
        ),
        **forms,
    }
    return render(request, "core/account_detail.html", context, status=status)


@gate("core.account:manage")
@require_POST
def account_rename(request: HttpRequest, pk: int) -> HttpResponse:
    user = account_get(pk)
    form = DetailsForm(request.POST, prefix="name")
    if form.is_valid():
        with problems_in(form):
            accounts.account_rename(actor=actor_of(request), user=user, **form.cleaned_data)
            messages.success(request, "The details were changed.")
            return redirect(_page_of(pk))
    return _detail(request, user, status=400, name_form=form)


@gate("core.account:manage")
@require_POST
def role_grant(request: HttpRequest, pk: int) -> HttpResponse:
    user = account_get(pk)
    form = RoleForm(request.POST, prefix="role")
    if form.is_valid():
        with problems_in(form):
            is_given = accounts.role_give(actor=actor_of(request), user=user, **form.cleaned_data)
            messages.success(request, "The role was given and takes effect at once." if is_given else WAITS)
            return redirect(_page_of(pk))
    return _detail(request, user, status=400, role_form=form)


@gate("core.account:manage")
@never_cache
@require_http_methods(["GET", "POST"])
def account_action(request: HttpRequest, pk: int, action: str) -> HttpResponse:
    """Carry out one of `ACTIONS` on an account, with a reason."""
    user = account_get(pk)
    if action in AccountAct.values and takes_two(actor_of(request), user):
        ask = partial(_ask, request, AccountAct(action), user)
        return confirm(request, _asking(ACTIONS[action]), subject=user.username, act=ask, back=_page_of(pk))
    act = partial(_act, request, action, user)
    return confirm(request, ACTIONS[action], subject=user.username, act=act, back=_page_of(pk))


def _act(request: HttpRequest, action: str, user: User, reason: str) -> Any:
    return SERVICES[action](actor=actor_of(request), user=user, reason=reason)


def _ask(request: HttpRequest, act: AccountAct, user: User, reason: str) -> None:
    act_ask(actor=actor_of(request), user=user, act=act, reason=reason)


def _asking(confirmation: Confirmation) -> Confirmation:
    """The page of an act that only asks for it."""
    effect = f"This takes two people of head office: a colleague confirms what you ask for here. {confirmation.effect}"
    return Confirmation(confirmation.title, effect, "Ask a colleague to confirm", WAITS)


@gate("core.account:manage")
@never_cache
@require_http_methods(["GET", "POST"])
def request_decide(request: HttpRequest, pk: int, decision: str) -> HttpResponse:
    """Confirm or refuse what a colleague asked for."""
    asked = get_object_or_404(AccountRequest.objects.select_related("user", "store", "asked_by"), pk=pk)
    page, service = DECISIONS[decision]

    def act(reason: str) -> Any:
        done = service(actor=actor_of(request), request=asked, reason=reason)
        return done if isinstance(done, (accounts.NewAccount, NewLink)) else None

    return confirm(request, page, subject=str(asked), act=act, back=_page_of(asked.user_id))


@gate("core.account:manage")
@require_http_methods(["GET", "POST"])
def role_withdraw(request: HttpRequest, pk: int, membership: int) -> HttpResponse:
    held = get_object_or_404(Membership.objects.select_related("user", "store"), pk=membership, user=pk)

    def act(reason: str) -> None:
        accounts.membership_withdraw(actor=actor_of(request), membership=held, reason=reason)

    return confirm(request, WITHDRAWAL, subject=str(held), act=act, back=_page_of(pk))


@gate("core.account:manage")
@require_http_methods(["GET", "POST"])
def token_revoke(request: HttpRequest, pk: int, start: str) -> HttpResponse:
    """Revoke another user's token. The address has its first characters, so that no hash appears in logs."""
    user = account_get(pk)
    row = token_by_start(user, start)

    def act(reason: str) -> None:
        accounts.token_revoke(actor=actor_of(request), user=user, digest=row.digest, reason=reason)

    return confirm(request, REVOCATION, subject=f"{start}… of {user.username}", act=act, back=_page_of(pk))


@gate("core.store:write")
@require_GET
def store_list(request: HttpRequest) -> HttpResponse:
    return render(request, "core/store_list.html", {"stores": Store.objects.all()})


@gate("core.store:write")
@require_http_methods(["GET", "POST"])
def store_new(request: HttpRequest) -> HttpResponse:
    form = NewStoreForm(request.POST or None)
    if request.method == "POST" and form.is_valid():
        with problems_in(form):
            store = store_create(actor=actor_of(request), **form.cleaned_data)
            messages.success(request, f"{store.name} was added. Give it a manager under Accounts.")
            return redirect("core:store-list")
    return render(request, "core/store_form.html", {"form": form, "store": None}, status=status_of(form))


@gate("core.store:write")
@require_http_methods(["GET", "POST"])
def store_edit(request: HttpRequest, slug: str) -> HttpResponse:
    store = get_object_or_404(Store, slug=slug)
    initial = {name: getattr(store, name) for name in StoreForm.base_fields}
    form = StoreForm(request.POST or None, initial=initial)
    if request.method == "POST" and form.is_valid():
        with problems_in(form):
            accounts.store_change(actor=actor_of(request), store=store, **form.cleaned_data)
            messages.success(request, f"{form.cleaned_data['name']} was changed.")
            return redirect("core:store-list")
    return render(request, "core/store_form.html", {"form": form, "store": store}, status=status_of(form))
