"""What the lab does where a shoe that was in the catalogue twice is merged into the one that stays."""

from __future__ import annotations

from catalogue.models import Shoe
from catalogue.services import register_mover
from core import audit
from core.audit import Change
from core.models import User
from labtests.models import Specimen


def specimens_move(*, actor: User, duplicate: Shoe, into: Shoe, reason: str) -> None:
    """Put the duplicate's specimens, with their tests, on record as specimens of the shoe that stays."""
    specimens = list(Specimen.objects.select_for_update().filter(shoe=duplicate).order_by("pk"))
    before = audit.snapshots(Specimen, [specimen.pk for specimen in specimens])
    for specimen in specimens:
        specimen.shoe = into
    Specimen.objects.bulk_update(specimens, ["shoe"])
    moved = [Change("labtests.specimen.reassigned", specimen, before[specimen.pk], reason) for specimen in specimens]
    audit.record_many(moved, actor=actor)


register_mover(specimens_move)
