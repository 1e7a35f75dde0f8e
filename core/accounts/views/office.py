"""Head office: accounts with their roles, and stores."""

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
from core.accounts.confirm_action import Deed, ask_why, show_password
from core.accounts.forms import AccountFilterForm, AccountForm, NameForm, NewStoreForm, RoleForm, StoreForm
from core.accounts.provisioning import store_create
from core.accounts.selectors import account_changes, account_get, account_list, token_by_start, tokens_of
from core.audit import sentence
from core.gate.permissions import gate
from core.models import Membership, Store, User
from core.web.forms import problems_in
from core.web.requests import actor_of

ACCOUNTS_PER_PAGE = 50

DEEDS = {
    "switch-off": Deed(
        "Switch off the account",
        "Nobody can sign in with it any more. Its sessions and API tokens end at once; the tokens for good. "
        "Its roles are kept for when it is switched on again.",
        "Switch it off",
        "The account is switched off.",
    ),
    "switch-on": Deed(
        "Switch on the account",
        "It can be signed in to again, with the password and the roles that it had.",
        "Switch it on",
        "The account is switched on.",
    ),
    "new-password": Deed(
        "Give a temporary password",
        "The password of now and every session end at once, and lockouts of the account are lifted. The new password "
        "is shown to you once, to hand over; it must be changed at the first sign-in.",
        "Make a temporary password",
        "",
    ),
    "second-factor": Deed(
        "Remove the second factor",
        "For somebody who has lost the device. Their sessions end, and until they set up a second factor again the "
        "password alone opens the account. Make sure that it is really them who ask.",
        "Remove the second factor",
        "The second factor is removed.",
    ),
}
ACTS = {
    "switch-off": accounts.account_switch_off,
    "switch-on": accounts.account_switch_on,
    "new-password": accounts.password_reset,
    "second-factor": second_factor.second_factor_lift,
}
WITHDRAWAL = Deed(
    "Withdraw a role",
    "What the role opens is closed at once, for sessions and tokens alike. The account stays.",
    "Withdraw the role",
    "The role is withdrawn.",
)
REVOCATION = Deed(
    "Revoke an API token",
    "Programs that use it are refused from now on.",
    "Revoke the token",
    "The token is revoked.",
)


@gate("core.account:manage")
@require_GET
def account_list_page(request: HttpRequest) -> HttpResponse:
    form = AccountFilterForm(request.GET)
    page = Paginator(account_list(form.wanted()), ACCOUNTS_PER_PAGE).get_page(request.GET.get("page"))
    return render(request, "core/account_list.html", {"form": form, "page": page})


@gate("core.account:manage")
@sensitive_variables("account")
@never_cache
@require_http_methods(["GET", "POST"])
def account_new(request: HttpRequest) -> HttpResponse:
    """Make an account; its temporary password is shown in the answer and nowhere again."""
    form = AccountForm(request.POST or None)
    if request.method == "POST" and form.is_valid():
        with problems_in(form):
            account = accounts.account_open(actor=actor_of(request), **form.cleaned_data)
            return show_password(request, account, back=_page_of(account.user.pk))
    return render(request, "core/account_new.html", {"form": form})


def _page_of(pk: int) -> str:
    return reverse("core:account-detail", args=[pk])


@gate("core.account:manage")
@never_cache
@require_GET
def account_detail(request: HttpRequest, pk: int) -> HttpResponse:
    return _detail(request, account_get(pk))


def _detail(request: HttpRequest, user: User, *, status: int = 200, **forms: Any) -> HttpResponse:
    """Show an account, with a form that was refused in the place of its empty one."""
    context = {
        "person": user,
        "is_own": user.pk == request.user.pk,
        "memberships": user.memberships_held(),
        "tokens": [(accounts.token_start(row), row) for row in tokens_of(user)],
        "changes": [(sentence(entry), entry) for entry in account_changes(user)],
        "role_form": RoleForm(prefix="role"),
        "name_form": NameForm(initial={"first_name": user.first_name, "last_name": user.last_name}, prefix="name"),
        **forms,
    }
    return render(request, "core/account_detail.html", context, status=status)


@gate("core.account:manage")
@require_POST
def account_rename(request: HttpRequest, pk: int) -> HttpResponse:
    user = account_get(pk)
    form = NameForm(request.POST, prefix="name")
    if form.is_valid():
        with problems_in(form):
            accounts.account_rename(actor=actor_of(request), user=user, **form.cleaned_data)
            messages.success(request, "The name is changed.")
            return redirect(_page_of(pk))
    return _detail(request, user, status=400, name_form=form)


@gate("core.account:manage")
@require_POST
def role_grant(request: HttpRequest, pk: int) -> HttpResponse:
    user = account_get(pk)
    form = RoleForm(request.POST, prefix="role")
    if form.is_valid():
        with problems_in(form):
            accounts.role_grant(actor=actor_of(request), user=user, **form.cleaned_data)
            messages.success(request, "The role is given; it holds from now on.")
            return redirect(_page_of(pk))
    return _detail(request, user, status=400, role_form=form)


@gate("core.account:manage")
@never_cache
@require_http_methods(["GET", "POST"])
def account_deed(request: HttpRequest, pk: int, deed: str) -> HttpResponse:
    """Do one of `DEEDS` to an account, with a reason."""
    user = account_get(pk)
    act = partial(_act, request, deed, user)
    return ask_why(request, DEEDS[deed], subject=user.username, act=act, back=_page_of(pk))


def _act(request: HttpRequest, deed: str, user: User, reason: str) -> Any:
    return ACTS[deed](actor=actor_of(request), user=user, reason=reason)


@gate("core.account:manage")
@require_http_methods(["GET", "POST"])
def role_withdraw(request: HttpRequest, pk: int, membership: int) -> HttpResponse:
    held = get_object_or_404(Membership.objects.select_related("user", "store"), pk=membership, user=pk)

    def act(reason: str) -> None:
        accounts.membership_withdraw(actor=actor_of(request), membership=held, reason=reason)

    return ask_why(request, WITHDRAWAL, subject=str(held), act=act, back=_page_of(pk))


@gate("core.account:manage")
@require_http_methods(["GET", "POST"])
def token_revoke(request: HttpRequest, pk: int, start: str) -> HttpResponse:
    """End a token of another, named by its first characters: its hash is in no address."""
    user = account_get(pk)
    row = token_by_start(user, start)

    def act(reason: str) -> None:
        accounts.token_revoke(actor=actor_of(request), user=user, digest=row.digest, reason=reason)

    return ask_why(request, REVOCATION, subject=f"{start}… of {user.username}", act=act, back=_page_of(pk))


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
            messages.success(request, f"{store.name} is added. Give it a manager under Accounts.")
            return redirect("core:store-list")
    return render(request, "core/store_form.html", {"form": form, "store": None})


@gate("core.store:write")
@require_http_methods(["GET", "POST"])
def store_edit(request: HttpRequest, slug: str) -> HttpResponse:
    store = get_object_or_404(Store, slug=slug)
    kept = {name: getattr(store, name) for name in StoreForm.base_fields}
    form = StoreForm(request.POST or None, initial=kept)
    if request.method == "POST" and form.is_valid():
        with problems_in(form):
            accounts.store_change(actor=actor_of(request), store=store, **form.cleaned_data)
            messages.success(request, f"{form.cleaned_data['name']} is changed.")
            return redirect("core:store-list")
    return render(request, "core/store_form.html", {"form": form, "store": store})
