"""Everything that is stored about one customer, found by the way that each protected table has to them.

Nothing here names a table: a new one with personal data is protected (`fittings/models/row_rules.py`), and is exported
and removed like the others from then on.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator
from typing import Any

from django.contrib.postgres.aggregates import BoolOr
from django.db import models
from django.db.models import Q
from django.utils import timezone

from core.audit import sentence
from core.gate.row_scope import Protected, protected
from core.models import AuditEntry
from fittings.models import Course, Customer
from fittings.models.row_rules import WITHOUT_CUSTOMER

FORMAT = "held-on-a-person/1"


def way_to_customer(item: Protected) -> str:
    """Return the lookup from a protected table to the customer.

    The way to the store is followed until a table knows the customer itself.
    """
    model, steps = item.model, list[str]()
    for step in item.path:
        if model is Customer:
            return "__".join([*steps, "pk"])
        if any(column.name == "customer" for column in model._meta.concrete_fields):
            return "__".join([*steps, "customer"])
        steps.append(step)
        model = model._meta.get_field(step).related_model  # type: ignore[assignment]
    raise TypeError(f"{item.model.__name__} has no way to a customer.")


def tables_of_customers() -> list[Protected]:
    """Return the protected tables from which a row leads to a customer, in the order in which they were protected."""
    return [item for item in protected() if item.model._meta.label_lower not in WITHOUT_CUSTOMER]


def rows_held(item: Protected, customer: Customer) -> models.QuerySet[Any]:
    return item.model._base_manager.filter(**{way_to_customer(item): customer.pk}).order_by("pk")


def _columns(model: type[models.Model]) -> Iterator[str]:
    """The columns as they are exported: a shoe, a store, a version of rules by its short name, the rest as it is."""
    for column in model._meta.concrete_fields:
        target = column.related_model if column.is_relation else None
        known = {field.name for field in target._meta.concrete_fields} if isinstance(target, type) else set()
        short = next((name for name in ("slug", "username") if name in known), None)
        yield f"{column.name}__{short}" if short else column.attname


def export_of(customer: Customer, *, at: dt.datetime | None = None) -> dict[str, Any]:
    """Return everything held on a customer: each table with its rows, and what the audit trail says of them."""
    records: dict[str, list[dict[str, Any]]] = {}
    subjects = Q()
    for item in tables_of_customers():
        rows = list(rows_held(item, customer).values("pk", *_columns(item.model)))
        records[item.model._meta.label_lower] = rows
        ids = [str(row["pk"]) for row in rows]
        subjects |= Q(object_type=item.model._meta.label_lower, object_id__in=ids)
    trail = AuditEntry.objects.filter(subjects).order_by("id") if subjects else AuditEntry.objects.none()
    return {
        "format": FORMAT,
        "store": customer.store.slug,
        "exported_at": (at or timezone.now()).isoformat(timespec="seconds"),
        "records": records,
        "trail": [{"at": entry.at, "what": sentence(entry), "by": entry.content["actor_name"]} for entry in trail],
    }


def customers_of(user: Any) -> models.QuerySet[Customer]:
    return Customer.objects.visible_to(user).select_related("store")


def cells_of(customer: Customer) -> list[tuple[int, bool, bool]]:
    """Return the cells of the outcomes that a customer is counted in, each once: year, inside the target, recurred."""
    rows = _in_cells(Course.objects.filter(customer=customer, store__is_training=False))
    return [(row["chosen_on__year"], row["in_target"], row["back"]) for row in rows]


def people_in_cell(customer: Customer, cell: tuple[int, bool, bool]) -> int:
    """Count the people of the customer's store in a cell, the customer included."""
    year, inside, recurred = cell
    courses = Course.objects.filter(store=customer.store_id, chosen_on__year=year, in_target=inside)
    return sum(row["back"] == recurred for row in _in_cells(courses))


def _in_cells(courses: models.QuerySet[Course]) -> list[dict[str, Any]]:
    """Every person once a year and target, with whether any complaint came back."""
    by_person = courses.order_by("chosen_on__year", "in_target").values("customer", "chosen_on__year", "in_target")
    return [dict(row) for row in by_person.annotate(back=BoolOr("recurred"))]


def silent_since(moment: dt.datetime) -> models.QuerySet[Customer]:
    """Return the customers with no fitting, begun or finished, and no answer since a moment."""
    later = Q(fittings__at__gte=moment) | Q(fittings__follow_ups__answered_at__gte=moment)
    later |= Q(drafts__saved_at__gte=moment)
    recent = Customer.objects.filter(later).values("pk")
    return Customer.objects.filter(created_at__lt=moment).exclude(pk__in=recent).order_by("pk")
