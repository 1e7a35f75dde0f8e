"""What a person may ask for: everything held, the consent withdrawn, everything removed; and the retention period."""

from __future__ import annotations

import datetime as dt
import json

import pytest
from django.core.management import call_command
from django.utils import timezone

from core import audit
from core.audit import verification
from core.domain.errors import DomainError
from core.models import AuditEntry, DigestSalt
from fittings.domain.fitting.intake import FollowUpAnswer
from fittings.models import Choice, Consent, Customer, Fitting, FollowUp, PainReport, RemovedCount
from fittings.selectors.people.personal_data import export_of, rows_held, tables_of_customers
from fittings.services import follow_up_answer
from fittings.services.people import privacy
from tests.fittings.models.test_row_security import EMAIL, NAME, person_of_a  # noqa: F401  a fixture

pytestmark = pytest.mark.usefixtures("db")


def faults_of_fittings():
    """Faults of the chain and of this app's records; the factories make catalogue rows without entries."""
    kinds = [kind for kind in audit.record_kinds() if kind.model._meta.app_label == "fittings"]
    assert kinds
    return [*verification.chain_faults(), *(fault for kind in kinds for fault in verification.record_faults(kind))]


@pytest.fixture
def customer(person_of_a):  # noqa: F811
    return person_of_a.customer


def test_export_holds_every_protected_table(customer):
    held = export_of(customer)
    assert held["records"].keys() == {item.model._meta.label_lower for item in tables_of_customers()}
    assert held["records"]["fittings.customer"][0]["name"] == NAME
    assert held["records"]["fittings.fitting"][0]["body_mass_kg"] == 70.0
    assert held["records"]["fittings.choice"][0]["shoe__slug"] == "in-target"
    assert held["records"]["fittings.painreport"][0]["score"] == 3
    assert len(held["records"]["fittings.footobservation"]) == 2
    assert any("recorded fitting" in entry["what"] for entry in held["trail"])


def test_export_of_one_holds_nothing_of_another(customer, chosen):
    other = chosen(name="Somebody Else", email="else@example.org").customer
    text = json.dumps(export_of(other), default=str)
    assert NAME not in text
    assert "Somebody Else" in text


def test_export_page_is_the_managers_and_leaves_an_entry(customer, sign_in, cast):
    address = f"/fittings/customers/{customer.pk}/export/"
    assert sign_in(cast.fitter_a).post(address, {"reason": "in-person"}).status_code == 403
    answer = sign_in(cast.manager_a).post(address, {"reason": "in-person"})
    assert answer.headers["Content-Disposition"] == f'attachment; filename="customer-{customer.pk}.json"'
    assert answer.json()["records"]["fittings.customer"][0]["email"] == EMAIL
    entry = AuditEntry.objects.get(action="fittings.customer.exported")
    assert entry.object_id == str(customer.pk)
    assert entry.content["reason"] == "asked for in the store"


def test_withdrawal_leaves_only_that_the_fitting_took_place(customer, cast):
    pk = customer.fittings.get().pk
    privacy.customer_withdraw(actor=cast.fitter_a, customer=customer, reason="in-writing")
    fitting = Fitting.objects.get(pk=pk)
    assert (fitting.kept, fitting.customer_id, fitting.body_mass_kg, fitting.need_contributions) == (
        False,
        None,
        None,
        [],
    )
    for model in (Customer, Consent, Choice, FollowUp, PainReport):
        assert not model.objects.exists()
    assert faults_of_fittings() == []


def test_erasure_leaves_no_row(customer, cast):
    privacy.customer_erase(actor=cast.manager_a, customer=customer, reason="in-person")
    for item in tables_of_customers():
        assert not item.model._base_manager.exists(), item.model
    assert not RemovedCount.objects.exists()
    assert faults_of_fittings() == []
    entry = AuditEntry.objects.get(action="fittings.customer.erased")
    assert entry.content["after"] is None


@pytest.mark.parametrize("way", ["customer_withdraw", "customer_erase"])
def test_trail_never_holds_who_it_was(way, customer, cast):
    getattr(privacy, way)(actor=cast.manager_a, customer=customer, reason="in-person")
    assert not AuditEntry.objects.filter(payload__icontains="quillon").exists()


def test_trail_has_no_shoe_or_score_of_somebody_removed(customer, cast):
    """Nothing that only the records said: which shoe, how stable, whether it was inside the target."""
    choices = list(Choice.objects.select_related("shoe__brand", "score_card").filter(fitting__customer=customer))
    assert choices
    words = {str(choice.shoe) for choice in choices} | {choice.shoe.slug for choice in choices}
    words |= {f'"{column}":' for column in ("shoe_id", "score_card_id", "stability", "in_target", "current_shoe_id")}
    privacy.customer_erase(actor=cast.manager_a, customer=customer, reason="in-person")
    entries = AuditEntry.objects.filter(object_type__startswith="fittings.").exclude(object_type__contains="rules")
    text = "\n".join(entries.values_list("payload", flat=True))
    assert "fittings.choice" in text
    assert [word for word in words if word in text] == []
    salts = DigestSalt.objects.filter(object_type__in=["fittings.choice", "fittings.tryon", "fittings.fitting"])
    assert not salts.exists()


def test_removal_spares_everybody_else(customer, chosen, cast):
    other = chosen(name="Somebody Else", email="else@example.org").customer
    held = {item.model: rows_held(item, other).count() for item in tables_of_customers()}
    privacy.customer_erase(actor=cast.manager_a, customer=customer, reason="in-person")
    assert {item.model: rows_held(item, other).count() for item in tables_of_customers()} == held


def test_count_stays_only_where_five_are_counted_together(chosen, cast):
    people = [chosen(name=f"Person {n}", email=f"p{n}@example.org").customer for n in range(5)]
    privacy.customer_withdraw(actor=cast.fitter_a, customer=people[0], reason="in-person")
    count = RemovedCount.objects.get()
    assert (count.store, count.in_target, count.recurred, count.people) == (cast.store_a, True, False, 1)
    privacy.customer_withdraw(actor=cast.fitter_a, customer=people[1], reason="in-person")
    count.refresh_from_db()
    assert count.people == 1  # four were left in the cell: a number would point at them


def test_other_stores_customer_is_not_there(customer, sign_in, cast):
    client = sign_in(cast.fitter_b)
    for way in ("", "withdraw/"):
        assert client.get(f"/fittings/customers/{customer.pk}/{way}").status_code == 404
    with pytest.raises(DomainError) as refused:
        privacy.customer_withdraw(actor=cast.fitter_b, customer=customer, reason="in-person")
    assert refused.value.status == 404


def test_withdrawal_twice_is_told(customer, sign_in, cast):
    client = sign_in(cast.fitter_a)
    address = f"/fittings/customers/{customer.pk}/withdraw/"
    assert client.post(address, {"reason": "in-person", "name": customer.name}).status_code == 302
    assert client.post(address, {"reason": "in-person", "name": customer.name}).status_code == 404
    with pytest.raises(DomainError, match="removed in the meantime"):
        privacy.customer_withdraw(actor=cast.fitter_a, customer=customer, reason="in-person")


def test_free_text_is_no_reason(customer, sign_in, cast):
    answer = sign_in(cast.manager_a).post(f"/fittings/customers/{customer.pk}/erase/", {"reason": "she moved away"})
    assert answer.status_code == 400
    assert b"Remove everything" in answer.content
    with pytest.raises(DomainError, match="Say how it was asked for"):
        privacy.customer_erase(actor=cast.manager_a, customer=customer, reason="she moved away")
    assert Customer.objects.filter(pk=customer.pk).exists()


def test_link_of_somebody_removed_is_refused_kindly(customer, client, cast):
    from fittings.services.people.links import token_for

    token = token_for(customer.fittings.get())
    assert client.get(f"/f/{token}/").status_code == 200
    privacy.customer_withdraw(actor=cast.fitter_a, customer=customer, reason="in-person")
    assert client.get(f"/f/{token}/").status_code == 404


def test_look_up_finds_own_people_by_part_of_the_name_in_the_body(
    customer, sign_in, cast, django_assert_max_num_queries
):
    client = sign_in(cast.fitter_a)
    with django_assert_max_num_queries(6):
        found = client.post("/fittings/customers/", {"words": "distinct quill"}).content.decode()
    assert NAME in found
    assert "No customer matches" in client.post("/fittings/customers/", {"words": "nobody-like-this"}).content.decode()
    assert client.post("/fittings/customers/", {"words": "x" * 121}).status_code == 400


def test_customer_page_asks_a_fixed_number_of_queries(customer, chosen, sign_in, cast, django_assert_num_queries):
    client = sign_in(cast.manager_a)
    client.get(f"/fittings/customers/{customer.pk}/")
    with django_assert_num_queries(12):
        client.get(f"/fittings/customers/{customer.pk}/")
    chosen(name=NAME, email=EMAIL, slug="another")
    with django_assert_num_queries(12):
        client.get(f"/fittings/customers/{customer.pk}/")


def test_retention_removes_the_long_silent_and_nobody_else(chosen, cast, settings, capsys):
    settings.HEALTH_DATA_RETENTION_MONTHS = 12
    now = timezone.now()
    old = now - dt.timedelta(days=500)
    silent = chosen(name="Long Silent", email="silent@example.org", at=old).customer
    heard = chosen(name="Still Heard", email="heard@example.org", at=old)
    last = heard.follow_ups.order_by("-due_on").first()
    follow_up_answer(actor=None, follow_up=last, answer=FollowUpAnswer(wearing=True), at=now)
    fresh = chosen(name="New Here", email="new@example.org").customer
    call_command("apply_retention")
    assert set(Customer.objects.values_list("pk", flat=True)) == {heard.customer_id, fresh.pk}
    assert f"removed customer {silent.pk}" in capsys.readouterr().out
    assert faults_of_fittings() == []
    call_command("apply_retention")
    assert "0 removed" in capsys.readouterr().out
