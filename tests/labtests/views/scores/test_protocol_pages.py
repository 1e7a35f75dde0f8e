"""Pages of protocols: drafted from the one in use, changed, looked at in a dry run, adopted by somebody else."""

from __future__ import annotations

import pytest
from django.test import Client
from django.urls import reverse

from labtests import services
from labtests.forms.protocols import initial_of
from labtests.models import Protocol, ProtocolDraft
from tests.people import person


def client_of(user):
    client = Client()
    client.force_login(user)
    return client


@pytest.fixture
def author(lab):
    return client_of(person("author", "reviewer"))


@pytest.fixture
def reviewer(lab):
    return client_of(lab.reviewer)


def text_of(response):
    return response.content.decode()


def address(name, *args):
    return reverse(f"labtests:{name}", args=args)


def form_of(**change):
    return {**initial_of(Protocol.objects.get(version="P1")), "version": "P2", "reason": "a warmer room", **change}


def test_protocol_goes_from_its_draft_to_its_adoption(author, reviewer, lab):
    test = lab.approved()
    services.shoe_publish(actor=lab.reviewer, shoe=lab.shoe, reason="first tests")
    assert "never mixed on one scale" in text_of(author.get(address("protocol-list")))
    sent = author.post(address("protocol-create"), form_of(temperature_c_low=23, temperature_c_nominal=24))
    assert sent.status_code == 302
    change = form_of(temperature_c_low=23.5, temperature_c_nominal=24, revision=1)
    assert author.post(address("protocol-edit", "P2"), change).status_code == 302
    assert author.post(address("protocol-edit", "P2"), change).status_code == 400
    dry = text_of(reviewer.get(address("protocol-dry-run", "P2")))
    assert f"Test {test.pk}</a> of F2-01" in dry
    assert "accepted: 23.5 to 25 °C" in dry
    assert "Fenwright Fenrunner 2</a>" in dry
    assert "somebody else has to adopt it" in text_of(author.get(address("protocol-dry-run", "P2")))
    given = {"revision": ProtocolDraft.objects.get().revision, "reason": "agreed"}
    refused = reviewer.post(address("protocol-adopt", "P2"), given)
    assert refused.status_code == 400
    assert "would leave the catalogue" in text_of(refused)
    assert reviewer.post(address("protocol-adopt", "P2"), {**given, "withdraw": "on"}).status_code == 302
    assert Protocol.objects.get(is_current=True).version == "P2"
    assert "1 card left the catalogue" in text_of(reviewer.get(address("protocol-detail", "P2")))
    assert "Conditions and protocol P1" in text_of(reviewer.get(address("test-detail", test.pk)))


def test_form_says_what_a_protocol_can_not_be(author):
    for change, words in (
        ({"temperature_c_low": 30}, "the nominal value is in the accepted range"),
        ({"torsion_deg": 0}, "The twist angle is more than 0°"),
        ({"version": "P1"}, "There is already a protocol P1"),
        ({"calibrations": []}, "Choose from “Calibrations needed”."),
        ({"repeats_wanted": "many"}, "Enter a whole number"),
    ):
        answer = author.post(address("protocol-create"), form_of(**change))
        assert answer.status_code == 400, change
        assert words in text_of(answer)
    assert not ProtocolDraft.objects.exists()


def test_another_angle_is_pointed_out(author):
    author.post(address("protocol-create"), form_of(torsion_deg=10))
    assert "at another angle or load" in text_of(author.get(address("protocol-detail", "P2")))


def test_draft_is_discarded_with_a_reason(author):
    author.post(address("protocol-create"), form_of())
    assert author.post(address("protocol-discard", "P2"), {}).status_code == 400
    assert author.post(address("protocol-discard", "P2"), {"reason": "not needed"}).status_code == 302
    assert "discarded" in text_of(author.get(address("protocol-list")))


def test_technician_reads_protocols_and_drafts_none(lab, author):
    technician = client_of(lab.technician)
    author.post(address("protocol-create"), form_of())
    for name in ("protocol-detail", "protocol-dry-run"):
        assert technician.get(address(name, "P2")).status_code == 200
    assert technician.get(address("protocol-create")).status_code == 403
    assert technician.post(address("protocol-adopt", "P2")).status_code == 403
    assert technician.get(address("protocol-detail", "P9")).status_code == 404


def test_list_takes_as_many_queries_with_more_protocols(author, django_assert_max_num_queries):
    for number in range(2, 5):
        author.post(address("protocol-create"), form_of(version=f"P{number}"))
    with django_assert_max_num_queries(6):
        author.get(address("protocol-list"))
