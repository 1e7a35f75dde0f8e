"""The state that the catalogue's list of all shoes says of a shoe, as the lab goes on with it."""

from __future__ import annotations

from catalogue.selectors.records.shoe_records import RecordFilter, record_get, record_list
from catalogue.services import shoe_correct
from labtests.models import Specimen


def test_shoe_with_an_approved_test_is_measured(lab):
    assert record_get("fenrunner-2").state == "draft"
    lab.approved()
    assert record_get("fenrunner-2").state == "measured"
    assert list(record_list(RecordFilter(state="measured"))) == [lab.shoe]


def test_file_that_names_an_earlier_address_is_of_the_same_shoe(lab):
    shoe_correct(actor=lab.reviewer, shoe=lab.shoe, changes={"slug": "fenrunner-two"}, reason="spelling")
    assert lab.accepted().specimen.shoe == lab.shoe
    assert Specimen.objects.get().shoe.slug == "fenrunner-two"
