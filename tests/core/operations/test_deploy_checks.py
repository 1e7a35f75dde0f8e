"""`check --deploy` names the settings that a served practice needs."""

from __future__ import annotations

import pytest

from core.operations.deploy_checks import emails_have_a_sender, links_lead_here


@pytest.mark.parametrize(
    ("address", "problems"),
    [
        ("https://shoes.example.org", []),
        ("http://shoes.example.org", ["core.W002"]),
        ("https://localhost:8000", ["core.W002"]),
        ("shoes.example.org", ["core.W002"]),
    ],
)
def test_site_url(settings, address, problems):
    settings.SITE_URL = address
    assert [message.id for message in links_lead_here()] == problems


@pytest.mark.parametrize(
    ("sender", "problems"),
    [
        ("fittings@shoes.example.org", []),
        ("Fittings <fittings@shoes.example.org>", []),
        ("follow-up@benchlast.invalid", ["core.W003"]),
        ("Us <follow-up@benchlast.invalid>", ["core.W003"]),
    ],
)
def test_sender(settings, sender, problems):
    settings.DEFAULT_FROM_EMAIL = sender
    assert [message.id for message in emails_have_a_sender()] == problems
