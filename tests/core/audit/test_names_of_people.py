"""Pages name people; the sign-in name is added where it is needed to tell two of them apart."""

from __future__ import annotations

import pytest

from core import audit
from core.models import User
from core.web.people import names_of

pytestmark = pytest.mark.usefixtures("db")


def account(username, first_name="", last_name=""):
    return User.objects.create(username=username, first_name=first_name, last_name=last_name)


def test_name_stands_alone_while_it_is_one_persons():
    account("ab", "Ada", "Bell")
    account("nameless")
    assert names_of(["ab", "nameless", "nobody"]) == {"ab": "Ada Bell", "nameless": "nameless"}


def test_sign_in_name_tells_namesakes_apart_also_where_one_of_them_is_not_asked_for():
    account("ab", "Ada", "Bell")
    account("ab2", "Ada", "Bell")
    assert names_of(["ab"]) == {"ab": "Ada Bell (ab)"}
    assert names_of(["ab", "ab2"]) == {"ab": "Ada Bell (ab)", "ab2": "Ada Bell (ab2)"}


def test_account_named_as_another_signs_in_is_not_taken_for_it():
    account("Ada")
    account("x", "Ada")
    assert names_of(["Ada", "x"]) == {"Ada": "Ada (Ada)", "x": "Ada (x)"}


def test_entries_name_who_acted_in_one_query(django_assert_num_queries):
    actors = [account("ab", "Ada", "Bell"), account("cd", "Cy", "Dove"), account("ef", "Cy", "Dove"), None]
    for actor in actors:
        audit.record(actor=actor, action="core.user.created", subject=actors[0], reason="")
    with django_assert_num_queries(1):
        names = [audit.who(entry) for entry in audit.with_people(audit.entries_of(actors[0])).order_by("id")]
    assert names == ["Ada Bell", "Cy Dove (cd)", "Cy Dove (ef)", "system"]
