"""The services of brands and shoes decide for themselves who may call them."""

from __future__ import annotations

import pytest

from catalogue import services
from catalogue.models import Brand
from catalogue.services.records.shoe_import import shoes_import
from core.domain.errors import DomainError

GUARDED = [
    services.brand_create,
    services.brand_correct,
    services.shoe_create,
    services.shoe_correct,
    services.shoe_discontinue,
    services.shoe_link,
    services.shoe_merge,
    shoes_import,
    services.photo_set,
    services.photo_describe,
    services.photo_remove,
    services.wish_done,
    services.wish_decline,
    services.fault_answer,
]


@pytest.mark.parametrize("service", GUARDED, ids=lambda service: service.__name__)
def test_store_manager_may_not_write_what_all_stores_read(cast, service):
    with pytest.raises(DomainError) as caught:
        service(actor=cast.manager_a)
    assert (caught.value.code, caught.value.status) == ("permission_denied", 403)


def test_technician_and_the_system_itself_may_add_a_brand(cast):
    services.brand_create(actor=cast.technician, name="Odderby")
    services.brand_create(actor=None, name="Corvane")
    assert Brand.objects.count() == 2
