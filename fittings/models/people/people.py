"""Customers and their consent. What is kept of a person is kept because they agreed to it."""

from __future__ import annotations

import secrets
from typing import Any, ClassVar

from django.db import models
from django.db.models.functions import Lower

from core.models import Store, printable

NONCE_BYTES = 9


def new_nonce() -> str:
    """Return what a signed link has beside a number, so that it opens nothing else that gets the same number."""
    return secrets.token_urlsafe(NONCE_BYTES)


class CustomerQuerySet(models.QuerySet["Customer"]):
    def visible_to(self, user: Any) -> CustomerQuerySet:
        """Customers of the stores that the user works in."""
        return self.filter(store_id__in=user.store_ids())

    def writable(self) -> CustomerQuerySet:
        """Customers with an address that works, who did not ask to be left in peace."""
        return self.filter(email__gt="", mail_stopped_at__isnull=True, mail_failed_at__isnull=True)


class Customer(models.Model):
    """Somebody who was fitted and agreed that it is kept. Belongs to one store."""

    store = models.ForeignKey(Store, on_delete=models.PROTECT, related_name="customers")
    name = models.CharField(max_length=120, validators=[printable])
    email = models.EmailField(blank=True)
    phone = models.CharField(max_length=40, blank=True, validators=[printable])
    # Said by the customer through the link of an e-mail, or to the staff; and found out when an e-mail came back.
    mail_stopped_at = models.DateTimeField(null=True, blank=True)
    mail_failed_at = models.DateTimeField(null=True, blank=True)
    created_at = models.DateTimeField()
    # Without one it is opened by links without one: those of the release before, which goes on during an upgrade.
    link_nonce = models.CharField(max_length=16, blank=True, default=new_nonce, db_default="", editable=False)

    objects = CustomerQuerySet.as_manager()

    class Meta:
        ordering: ClassVar = ["pk"]
        indexes: ClassVar = [models.Index("store", Lower("email"), name="customer_by_email")]
        constraints: ClassVar = [
            models.CheckConstraint(
                condition=~models.Q(name=""),
                name="customer_has_name",
                violation_error_message="A customer who is kept needs a name.",
            ),
        ]

    def __str__(self) -> str:
        # Read by the audit trail and by logs: no personal data.
        return f"customer {self.pk}"


class Consent(models.Model):
    """That a customer agreed, to which wording, and when."""

    customer = models.ForeignKey(Customer, on_delete=models.PROTECT, related_name="consents")
    text_version = models.CharField(max_length=20)
    guardian = models.CharField(
        max_length=120,
        blank=True,
        default="",
        db_default="",
        validators=[printable],
        help_text="Who agreed for somebody too young to agree alone.",
    )
    given_at = models.DateTimeField()

    class Meta:
        ordering: ClassVar = ["-given_at"]
        constraints: ClassVar = [
            models.UniqueConstraint(
                fields=["customer", "text_version"],
                name="consent_once_a_wording",
                violation_error_message="The customer has agreed to this wording already.",
            ),
        ]

    def __str__(self) -> str:
        return f"consent {self.text_version} of customer {self.customer_id}"
