"""The lab's API: specimens received, moved, disposed of."""

from __future__ import annotations

from decimal import Decimal
from typing import Any

from django.utils import timezone
from drf_spectacular.utils import extend_schema
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response

from catalogue.models import EU_SIZE_MAX, EU_SIZE_MIN, Shoe
from core.domain.errors import DomainError
from core.models import printable
from core.web.api import PageQuery, PracticePagination, QueryView
from core.web.parsers import PatientJSONParser
from core.web.requests import actor_of
from core.web.strict import Text
from labtests import permissions as permissions  # registers the actions named below
from labtests import services
from labtests.api.bench_tests import PROBLEM, PROBLEMS, paged_schema
from labtests.api.bodies import size_words
from labtests.api.queries import choice, words
from labtests.api.serializers import LabScore
from labtests.models import ReceiptSource, Specimen, SpecimenKind
from labtests.models.specimens import Side
from labtests.presentation.bench_tests import covered
from labtests.selectors.bench import specimens
from labtests.selectors.bench.retests import SORTS, WHY, Retest, retests
from labtests.selectors.bench.specimens import SpecimensAsked

PARSERS = [PatientJSONParser]


class SpecimenQuery(PageQuery):
    """Which specimens are listed."""

    q = words("Words of code, shoe or place.", 80)
    kind = choice(SpecimenKind.choices, "Sample of a shoe, or check shoe.")
    state = choice(("present", "disposed"), "Whether the lab still has it.")


def _text(most: int, hint: str = "") -> serializers.CharField:
    return serializers.CharField(
        required=False, default="", allow_blank=True, max_length=most, validators=[printable], help_text=hint
    )


class ReceiveInput(serializers.Serializer[Any]):
    """A pair that came to the lab."""

    shoe = serializers.SlugField(max_length=100, help_text="Short name of a shoe.")
    size_eu = serializers.DecimalField(
        max_digits=4, decimal_places=1, min_value=EU_SIZE_MIN, max_value=EU_SIZE_MAX, help_text="In halves."
    )
    sides = serializers.ListField(
        child=serializers.ChoiceField(choices=Side.choices), min_length=1, max_length=2, default=list(Side.values)
    )
    kind = serializers.ChoiceField(choices=SpecimenKind.choices, default=SpecimenKind.SAMPLE)
    # A field may have the name of an attribute of serializers: the metaclass takes it out of the class.
    source = serializers.ChoiceField(choices=ReceiptSource.choices)  # type: ignore[assignment]
    supplier = _text(120)
    batch = _text(80)
    received_on = serializers.DateField(help_text="400 for a day to come.")
    price = serializers.DecimalField(
        max_digits=9, decimal_places=2, min_value=Decimal(0), required=False, allow_null=True, default=None
    )
    currency = _text(3, "ISO 4217, given with a price and only then.")
    place = _text(80)
    stem = _text(60, "What the codes begin with; short name and number where left out. 409 for codes that are taken.")


class MoveInput(serializers.Serializer[Any]):
    """Where a specimen is."""

    place = serializers.CharField(max_length=80, allow_blank=True, validators=[printable])


class DisposeInput(serializers.Serializer[Any]):
    """When and why a specimen left the lab."""

    on = serializers.DateField(help_text="400 for a day to come.")
    reason = Text(max_length=2000)


class LabSpecimen(serializers.Serializer[Any]):
    """A specimen."""

    code = serializers.CharField()
    shoe = serializers.CharField()
    size = serializers.CharField()
    side = serializers.CharField()
    kind = serializers.CharField()
    place = serializers.CharField(allow_blank=True)
    chamber = serializers.CharField(allow_null=True, help_text="Code of the chamber that it is in.")
    # See `ReceiveInput`.
    source = serializers.CharField(  # type: ignore[assignment]
        allow_null=True, help_text="Null where no receipt was noted."
    )
    batch = serializers.CharField(allow_null=True)
    received_on = serializers.DateField(allow_null=True)
    disposed_on = serializers.DateField(allow_null=True)
    disposed_because = serializers.CharField(allow_blank=True)
    tests = serializers.IntegerField(help_text="How many tests it has.")


def specimen_body(specimen: Specimen) -> dict[str, Any]:
    """A specimen of `specimen_list`."""
    receipt, open_stays = specimen.receipt, vars(specimen)["open_stays"]
    return {
        "code": specimen.code,
        "shoe": specimen.shoe.slug,
        "size": size_words(specimen.size_eu),
        "side": specimen.side,
        "kind": specimen.kind,
        "place": specimen.place,
        "chamber": open_stays[0].chamber.code if open_stays else None,
        "source": receipt.source if receipt else None,
        "batch": receipt.batch if receipt else None,
        "received_on": receipt.received_on.isoformat() if receipt else None,
        "disposed_on": specimen.disposed_on.isoformat() if specimen.disposed_on else None,
        "disposed_because": specimen.disposed_because,
        "tests": vars(specimen)["n_tests"],
    }


class SpecimenList(QueryView):
    """Specimens."""

    permission = {"GET": "labtests.specimen:view", "POST": "labtests.specimen:write"}
    query = SpecimenQuery
    parser_classes = PARSERS

    @extend_schema(
        operation_id="lab_specimen_list",
        responses={200: paged_schema("LabSpecimenPage", LabSpecimen(many=True)), **PROBLEMS},
    )
    def get(self, request: Request) -> Response:
        """List specimens by code."""
        pagination = PracticePagination()
        asked = SpecimensAsked(**{name: self.asked[name] for name in SpecimensAsked.__slots__ if name in self.asked})
        page = pagination.paginate_queryset(specimens.specimen_list(asked), request, view=self) or []
        return pagination.get_paginated_response([specimen_body(specimen) for specimen in page])

    @extend_schema(
        operation_id="lab_specimen_receive",
        request=ReceiveInput,
        responses={201: LabSpecimen(many=True), 409: PROBLEM, **PROBLEMS},
    )
    def post(self, request: Request) -> Response:
        """Receive a pair: each shoe gets a code."""
        given = ReceiveInput(data=request.data)
        given.is_valid(raise_exception=True)
        read = dict(given.validated_data)
        shoe = Shoe.objects.filter(slug=read.pop("shoe")).first()
        if shoe is None:
            message = "The catalogue has no such shoe; add it there or correct its short name."
            raise DomainError(message, code="unknown_shoe", fields={"shoe": [message]})
        receipt = services.ReceiptGiven(**{name: read.pop(name) for name in services.ReceiptGiven.__slots__})
        found = services.specimens_receive(actor=actor_of(request), shoe=shoe, receipt=receipt, **read)
        listed = specimens.specimens_named([specimen.code for specimen in found])
        return Response([specimen_body(specimen) for specimen in listed], status=201)


class RetestQuery(PageQuery):
    """Which reason to test again is asked for."""

    why = choice(list(WHY), "Only shoes with this reason.")
    sort = choice(list(SORTS), "The order; most reasons first where it is left out.")


class LabRetest(serializers.Serializer[Any]):
    """A published shoe that is due to be tested again."""

    shoe = serializers.CharField()
    tested_on = serializers.DateField()
    stability = LabScore()
    reasons = serializers.ListField(child=serializers.ChoiceField(choices=list(WHY)))
    samples = serializers.IntegerField(help_text="Samples that the lab still has.")
    faults = serializers.IntegerField(help_text="Faulty pairs that stores reported since the last test.")
    under_way = serializers.BooleanField()


class RetestList(QueryView):
    """Shoes to test again."""

    permission = {"GET": "labtests.specimen:view"}
    query = RetestQuery

    @extend_schema(
        operation_id="lab_retest_list",
        responses={200: paged_schema("LabRetestPage", LabRetest(many=True)), **PROBLEMS},
    )
    def get(self, request: Request) -> Response:
        """List published shoes with a reason to test them again, those with most reasons first."""
        pagination = PracticePagination()
        due: Any = retests(timezone.localdate(), self.asked.get("why", ""), self.asked.get("sort", "reasons"))
        page: list[Retest] = pagination.paginate_queryset(due, request, view=self) or []
        return pagination.get_paginated_response([_retest_body(one) for one in page])


def _retest_body(one: Retest) -> dict[str, Any]:
    card = one.card
    return {
        "shoe": card.shoe.slug,
        "tested_on": card.tested_on.isoformat(),
        "stability": {"value": card.stability, **covered(card.stability_u, card.stability_df), "estimated": False},
        "reasons": list(one.reasons),
        "samples": one.samples,
        "faults": one.faults,
        "under_way": one.is_under_way,
    }


class SpecimenDetail(QueryView):
    """One specimen."""

    permission = {"GET": "labtests.specimen:view"}

    @extend_schema(operation_id="lab_specimen", responses={200: LabSpecimen, **PROBLEMS})
    def get(self, request: Request, code: str) -> Response:
        return Response(specimen_body(specimens.specimen_page(code)))


class SpecimenMove(QueryView):
    """Where a specimen is."""

    permission = {"POST": "labtests.specimen:write"}
    parser_classes = PARSERS

    @extend_schema(
        operation_id="lab_specimen_move", request=MoveInput, responses={200: LabSpecimen, 409: PROBLEM, **PROBLEMS}
    )
    def post(self, request: Request, code: str) -> Response:
        """Note where a specimen is; 409 for one that was disposed of."""
        specimen = specimens.specimen_page(code)
        given = MoveInput(data=request.data)
        given.is_valid(raise_exception=True)
        services.specimen_move(actor=actor_of(request), specimen=specimen, **given.validated_data)
        return Response(specimen_body(specimens.specimen_page(code)))


class SpecimenDispose(QueryView):
    """Disposal of a specimen."""

    permission = {"POST": "labtests.specimen:write"}
    parser_classes = PARSERS

    @extend_schema(
        operation_id="lab_specimen_dispose",
        request=DisposeInput,
        responses={200: LabSpecimen, 409: PROBLEM, **PROBLEMS},
    )
    def post(self, request: Request, code: str) -> Response:
        """Note that a specimen was disposed of; 409 while it is in a chamber or on duty as a check shoe."""
        specimen = specimens.specimen_page(code)
        given = DisposeInput(data=request.data)
        given.is_valid(raise_exception=True)
        services.specimen_dispose(actor=actor_of(request), specimen=specimen, **given.validated_data)
        return Response(specimen_body(specimens.specimen_page(code)))
