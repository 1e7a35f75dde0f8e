"""Finding a customer of the own stores by name, e-mail address or telephone number."""

from __future__ import annotations

import datetime as dt
import re
from dataclasses import dataclass
from typing import Any

from django.db.models import Exists, F, Func, Max, OuterRef, Q, QuerySet, Subquery, Value

from core.models import Store
from fittings.domain.people.consent import CONSENT_VERSION
from fittings.models import Consent, Customer, Fitting

FOUND_MAX = 8
WORDS_MAX = 5
SHORTEST = 2
DIGITS_LEAST = 4
QUERY_MAX = 80
PK_DIGITS_MAX = 15


@dataclass(frozen=True, slots=True)
class Found:
    """A customer who was looked for; `agreed` where they agreed to the present wording before.

    `sizes` is the system in which they said sizes last, "" where none is known.
    """

    pk: int
    name: str
    email: str
    phone: str
    last_fitted: dt.datetime | None
    agreed: bool
    sizes: str = ""


def people_find(user: Any, store: Store, text: str) -> list[Found]:
    """Customers of a store of the user's that a text points to (`people_matching`), those seen last first; one query.

    A text of fewer than two characters finds nobody.
    """
    if len("".join(text.split())) < SHORTEST:
        return []
    rows = people_matching(Customer.objects.visible_to(user).filter(store=store), text)
    agreed = Consent.objects.filter(customer=OuterRef("pk"), text_version=CONSENT_VERSION)
    rows = rows.annotate(last_fitted=Max("fittings__at"), agreed=Exists(agreed), sizes=_sizes_said()).order_by(
        F("last_fitted").desc(nulls_last=True), "pk"
    )
    return [
        Found(row.pk, row.name, row.email, row.phone, row.last_fitted, row.agreed, row.sizes or "")
        for row in rows[:FOUND_MAX]
    ]


def _sizes_said() -> Subquery:
    said = Fitting.objects.filter(customer=OuterRef("pk")).exclude(size_system="").order_by("-at", "-pk")
    return Subquery(said.values("size_system")[:1])


def sizes_said(customer: Customer | None) -> str:
    """The system in which a customer said sizes last, "" where none is known."""
    if customer is None:
        return ""
    return Customer.objects.filter(pk=customer.pk).values_list(_sizes_said(), flat=True).first() or ""


def customer_picked(user: Any, pk: object) -> Customer | None:
    """The customer of the user's stores that a page names; None for none or one that is not theirs."""
    text = str(pk or "")
    if not text.isascii() or not text.isdecimal() or len(text) > PK_DIGITS_MAX:
        return None
    return Customer.objects.visible_to(user).filter(pk=int(text)).first()


def has_agreed(customer: Customer) -> bool:
    """Whether a customer agreed to the present wording."""
    return Consent.objects.filter(customer=customer, text_version=CONSENT_VERSION).exists()


def guardian_of(customer: Customer) -> str:
    """Who agreed to the present wording for a customer under age; empty where nobody had to."""
    consents = Consent.objects.filter(customer=customer, text_version=CONSENT_VERSION)
    return consents.values_list("guardian", flat=True).first() or ""


def people_matching(rows: QuerySet[Customer], text: str) -> QuerySet[Any]:
    """Those of some customers that every word of a text points to; all of them where it has no word.

    A word points to a name or an e-mail address that it begins a part of, or to a telephone number that holds its
    digits.
    """
    words = text.replace("\x00", " ")[:QUERY_MAX].split()[:WORDS_MAX]
    digits = re.sub(r"\D", "", "".join(words))
    # The zero before an area falls away where the country's number is written.
    local = digits.lstrip("0")
    number = Func(F("phone"), Value(r"\D"), Value(""), Value("g"), function="regexp_replace")
    customers: QuerySet[Any] = rows.annotate(phone_digits=number)
    asked = Q()
    for word in words:
        asked &= Q(name__istartswith=word) | Q(name__icontains=f" {word}") | Q(email__istartswith=word)
    # A number may be written in any groups, so its words count together.
    if local and len(digits) >= DIGITS_LEAST and len(digits) * 2 >= sum(map(len, words)):
        asked |= Q(phone_digits__contains=local)
    return customers.filter(asked)
