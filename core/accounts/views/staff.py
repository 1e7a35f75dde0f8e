"""Store manager pages: the staff of the store."""

from __future__ import annotations

from django.contrib import messages
from django.core.exceptions import PermissionDenied
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.views.decorators.cache import never_cache
from django.views.decorators.debug import sensitive_variables
from django.views.decorators.http import require_GET, require_http_methods

from core.accounts import services as accounts
from core.accounts.confirm_action import Confirmation, confirm, show_link, show_password
from core.accounts.forms import ExistingFitterForm, FitterForm
from core.accounts.links import account_invite
from core.accounts.selectors import staff_of_managed_stores, store_for
from core.gate.access import ROLE_GIVEN_BY_MANAGERS, gate
from core.models import Membership, Store
from core.web.forms import problems_in, status_of
from core.web.requests import actor_of

WITHDRAWAL = Confirmation(
    "Remove a fitter from the store",
    "The fitter loses access to this store at once. Their account and everything they recorded remain.",
    "Remove from the store",
    "The fitter was removed from the store.",
)


def _managed_store(request: HttpRequest, slug: str) -> Store:
    """Return a store the user manages; one where they are only a fitter is a 403, any other a 404."""
    store, may = store_for(actor_of(request), slug, "core.staff:manage")
    if not may:
        raise PermissionDenied("Your role does not allow this.")
    return store


@gate("core.staff:manage")
@require_GET
def staff_list(request: HttpRequest) -> HttpResponse:
    context = {"staff": staff_of_managed_stores(actor_of(request)), "removable_role": ROLE_GIVEN_BY_MANAGERS}
    return render(request, "core/staff_list.html", context)


@gate("core.staff:manage")
@sensitive_variables("account")
@never_cache
@require_http_methods(["GET", "POST"])
def fitter_new(request: HttpRequest, slug: str) -> HttpResponse:
    """Create an account for a new fitter; its link or temporary password is shown in this response and never again."""
    store = _managed_store(request, slug)
    form = FitterForm(request.POST or None)
    if request.method == "POST" and form.is_valid():
        by_link, asked = (
            form.take_first_sign_in(),
            {"role": ROLE_GIVEN_BY_MANAGERS, "store": store, **form.cleaned_data},
        )
        with problems_in(form):
            if by_link:
                return show_link(
                    request, account_invite(actor=actor_of(request), **asked), back=reverse("core:staff-list")
                )
            account = accounts.account_open(actor=actor_of(request), **asked)
            return show_password(request, account, back=reverse("core:staff-list"))
    return render(request, "core/fitter_new.html", {"form": form, "store": store}, status=status_of(form))


@gate("core.staff:manage")
@require_http_methods(["GET", "POST"])
def fitter_add(request: HttpRequest, slug: str) -> HttpResponse:
    """Add somebody who already has an account to this store as a fitter."""
    store = _managed_store(request, slug)
    form = ExistingFitterForm(request.POST or None)
    if request.method == "POST" and form.is_valid():
        user, reason = form.cleaned_data["username"], form.cleaned_data["reason"]
        with problems_in(form):
            accounts.role_grant(
                actor=actor_of(request), user=user, role=ROLE_GIVEN_BY_MANAGERS, store=store, reason=reason
            )
            messages.success(request, f"{user.display_name} is now a fitter at {store.name}.")
            return redirect("core:staff-list")
    return render(request, "core/fitter_add.html", {"form": form, "store": store}, status=status_of(form))


@gate("core.staff:manage")
@require_http_methods(["GET", "POST"])
def fitter_withdraw(request: HttpRequest, slug: str, membership: int) -> HttpResponse:
    store = _managed_store(request, slug)
    held = get_object_or_404(
        Membership.objects.select_related("user", "store"), pk=membership, store=store, role=ROLE_GIVEN_BY_MANAGERS
    )

    def act(reason: str) -> None:
        accounts.membership_withdraw(actor=actor_of(request), membership=held, reason=reason)

    return confirm(
        request,
        WITHDRAWAL,
        subject=f"{held.user.display_name}, {held.get_role_display()} at {held.store}",
        act=act,
        back=reverse("core:staff-list"),
    )
