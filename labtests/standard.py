"""Protocol P1 and scoring model S1, which every installation starts with."""

from __future__ import annotations

import dataclasses

from django.db import transaction

from catalogue.models import Scale
from core import audit
from core.standard import register_installer
from labtests.domain.scores.protocol import P1, WORDS
from labtests.domain.scores.scoring import S1
from labtests.models import Protocol, ScoringModel

REASON = "standard data"


@transaction.atomic
def install_protocol() -> None:
    if Protocol.objects.filter(version=P1.version).exists():
        return
    limits = {name: dataclasses.asdict(getattr(P1, name)) for name in WORDS}
    protocol = Protocol.objects.create(version=P1.version, limits=limits, is_current=True, reason=REASON)
    audit.record(actor=None, action="labtests.protocol.created", subject=protocol, reason=REASON)


@transaction.atomic
def install_scoring_model() -> None:
    if ScoringModel.objects.filter(version=S1.version).exists():
        return
    model = ScoringModel.objects.create(
        scale=Scale.objects.get(version="S1"), is_current=True, reason=REASON, **dataclasses.asdict(S1)
    )
    audit.record(actor=None, action="labtests.scoring_model.created", subject=model, reason=REASON)


register_installer(install_protocol)
register_installer(install_scoring_model)
