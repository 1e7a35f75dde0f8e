"""What was at the last fitting of the customer whom an unfinished fitting is for, and taking it over."""

from __future__ import annotations

import uuid

from django.http import HttpRequest, HttpResponse, QueryDict
from django.shortcuts import render
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_POST

from core.gate.access import gate
from core.gate.context import units_of
from core.web.display import METRIC
from fittings.forms.fitting.carry_over import carried
from fittings.forms.fitting.section import UNITS
from fittings.models import Customer
from fittings.presentation.fitting.last_time import LastTime, last_time
from fittings.selectors.fitting.drafts import draft_state
from fittings.selectors.people.hub import last_fitting
from fittings.selectors.people.people import customer_picked
from fittings.views.common import domain_errors_as_pages


def last_time_of(customer: Customer | None, units: str) -> LastTime | None:
    """What was last time, in the reader's units; None where nobody is picked."""
    if customer is None:
        return None
    return last_time(customer, last_fitting(customer), list(customer.consents.all()), units)


def taken_over(request: HttpRequest, name: str) -> QueryDict:
    """What was sent, with what one of the offers fills in."""
    shown = last_time_of(customer_picked(request.user, request.POST.get("person-known")), _units(request))
    offer = next((offer for offer in shown.offers if offer.name == name), None) if shown else None
    return carried(request.POST, offer) if offer else request.POST


def _units(request: HttpRequest) -> str:
    """The units that the page was opened in, which its numbers are read in."""
    return request.POST.get(UNITS, METRIC)


@gate("fittings.fitting:write")
@never_cache
@require_POST
@domain_errors_as_pages
def draft_last_time(request: HttpRequest, key: uuid.UUID) -> HttpResponse:
    """What was last time of the customer just picked. Sent in the body, like their name."""
    draft_state(request.user, key)
    customer = customer_picked(request.user, request.POST.get("person-known"))
    units = request.POST.get(UNITS) or units_of(request)
    return render(request, "fittings/_last_time.html", {"last_time": last_time_of(customer, units)})
