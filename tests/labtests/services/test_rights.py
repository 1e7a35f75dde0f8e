"""Services decide by themselves whether their actor may do what they do."""

from __future__ import annotations

import pytest

from core.domain.errors import DomainError
from labtests import services
from labtests.models import Chamber, Rig

# One of each group, with nothing but its actor: the right is checked before anything else is read.
GUARDED = [
    services.upload_store,
    services.upload_stage,
    services.batch_stage,
    services.batch_confirm,
    services.bench_test_approve,
    services.bench_test_keep_on_record,
    services.bench_test_amend,
    services.shoe_publish,
    services.rig_create,
    services.rig_clear,
    services.calibration_record,
    services.calibration_sign,
    services.calibration_strike,
    services.climate_import,
    services.check_shoe_designate,
    services.check_shoe_retire,
    services.gauge_study_plan,
    services.gauge_study_close,
    services.chamber_create,
    services.specimen_in,
    services.conditioning_strike,
    services.model_draft_create,
    services.model_adopt,
    services.protocol_draft_create,
    services.protocol_adopt,
]


@pytest.mark.parametrize("service", GUARDED, ids=lambda service: service.__name__)
def test_fitter_may_do_nothing_in_the_lab(cast, service):
    with pytest.raises(DomainError) as caught:
        service(actor=cast.fitter_a)
    assert (caught.value.code, caught.value.status) == ("permission_denied", 403)


@pytest.mark.parametrize(
    "service",
    [
        services.bench_test_approve,
        services.shoe_publish,
        services.rig_clear,
        services.check_shoe_retire,
        services.calibration_strike,
    ],
    ids=lambda service: service.__name__,
)
def test_technician_may_not_do_what_reviewers_do(cast, service):
    with pytest.raises(DomainError) as caught:
        service(actor=cast.technician)
    assert caught.value.code == "permission_denied"


def test_technician_and_the_system_itself_may_work(cast):
    services.chamber_create(actor=cast.technician, code="C-1")
    services.rig_create(actor=None, code="rig-1")
    assert (Chamber.objects.count(), Rig.objects.count()) == (1, 1)


def test_every_service_with_an_actor_is_guarded():
    unguarded = {
        name
        for name in services.__all__
        if "actor" in getattr(getattr(services, name), "__annotations__", {})
        and not hasattr(getattr(services, name), "needs")
    }
    assert unguarded == set()
