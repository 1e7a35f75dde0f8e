"""Wall cards: what was printed, of which scores, for which store."""

from __future__ import annotations

from collections.abc import Sequence

from django.db import transaction
from django.utils import timezone

from catalogue.models import CARDS_MOST, PrintedCard, PrintRun, ScoreCard
from core import audit
from core.database.validation import check
from core.domain.errors import DomainError
from core.models import Store, User


@transaction.atomic
def print_run_record(*, actor: User, store: Store, shoes: Sequence[int], paper: str, cards_per_sheet: int) -> PrintRun:
    """Record wall cards as printed, each with the scores that it shows: the current ones of these shoes, in order."""
    chosen = list(dict.fromkeys(shoes))
    if not chosen:
        raise DomainError("Choose at least one shoe.", code="no_shoes")
    if len(chosen) > CARDS_MOST:
        raise DomainError(f"At most {CARDS_MOST} cards can be printed at once, got {len(chosen)}.", code="too_many")
    current = dict(ScoreCard.objects.filter(is_current=True, shoe__in=chosen).values_list("shoe_id", "pk"))
    if len(current) < len(chosen):
        raise DomainError("A shoe you chose is not published. Choose again.", code="not_published", status=409)
    run = PrintRun(
        store=store, paper=paper, cards_per_sheet=cards_per_sheet, printed_at=timezone.now(), printed_by=actor
    )
    check(run)
    run.save()
    PrintedCard.objects.bulk_create(
        PrintedCard(run=run, shoe_id=shoe, score_card_id=current[shoe], position=position)
        for position, shoe in enumerate(chosen, start=1)
    )
    audit.record(actor=actor, action="catalogue.print_run.recorded", subject=run, store=store)
    return run


@transaction.atomic
def print_run_withdraw(*, actor: User, run: PrintRun) -> PrintRun:
    """Record that a run's cards do not hang on the wall: they were not printed after all, or taken down."""
    run = PrintRun.objects.select_for_update().get(pk=run.pk)
    if run.is_withdrawn:
        return run
    before = audit.snapshot(run)
    run.is_withdrawn = True
    run.save(update_fields=["is_withdrawn"])
    audit.record(actor=actor, action="catalogue.print_run.withdrawn", subject=run, before=before, store=run.store)
    return run
