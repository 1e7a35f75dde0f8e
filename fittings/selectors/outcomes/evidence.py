"""The practice's own outcomes as they are or were published."""

from __future__ import annotations

from django.db.models import QuerySet

from fittings.models import EvidenceRelease, ReleaseState


def evidence_published() -> EvidenceRelease | None:
    """Return what the public page shows; None where nothing is published."""
    return EvidenceRelease.objects.filter(state=ReleaseState.PUBLISHED).first()


def evidence_releases() -> QuerySet[EvidenceRelease]:
    """Return all releases, the newest first, with who decided on them."""
    return EvidenceRelease.objects.select_related("proposed_by", "confirmed_by", "ended_by")
