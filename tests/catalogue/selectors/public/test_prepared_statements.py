"""What is asked by the bare connection, outside transactions, is what Django's own connection says."""

from __future__ import annotations

import datetime as dt

import pytest
from django.db import connection

from catalogue.models import CatalogueRevision
from catalogue.selectors import revision as asked
from catalogue.selectors import shoe_ids_in_stock
from catalogue.selectors.public.sql import own_connection
from tests.databases import committed_database

# Without a transaction around the test.
db = pytest.fixture(committed_database)


def test_both_ways_of_asking_agree(db, make_shoe, make_store, put_in_stock):
    from catalogue.selectors.public.revision import _asked, _quick

    shoe = make_shoe()
    assert own_connection() is not None
    put_in_stock(make_store(), shoe, "42")
    moments = [dt.datetime(2026, 3, 4, 10, 15, 0, 123_456, tzinfo=dt.UTC), dt.datetime(1999, 1, 1, tzinfo=dt.UTC)]
    for moment in moments:
        CatalogueRevision.objects.update(changed_at=moment, shoes_changed_at=moment)
        assert _quick() == _asked()
    CatalogueRevision.objects.update(shoes_changed_at=None)
    assert _quick() == _asked()
    assert shoe_ids_in_stock(store="harbour") == [shoe.pk]
    # A connection that forgot what was planned is asked the other way, and the next time it is planned again.
    with connection.cursor() as cursor:
        cursor.execute("DEALLOCATE ALL")
    assert _quick() is None
    assert asked() == asked()
    assert _quick() == _asked()
