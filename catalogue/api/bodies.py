"""What the API answers with, for its description."""

from __future__ import annotations

from typing import Any

from drf_spectacular.utils import PolymorphicProxySerializer, inline_serializer
from rest_framework import serializers

from catalogue.models import USES, Wearer
from catalogue.selectors.records.shoe_records import DISCONTINUED, STATES


class ScoreBody(serializers.Serializer[Any]):
    value = serializers.FloatField()
    expanded_uncertainty = serializers.FloatField(allow_null=True, help_text="U = k u; null where not known.")
    coverage_factor = serializers.FloatField(allow_null=True, help_text="k for 95.45 %, by the degrees of freedom.")
    degrees_of_freedom = serializers.IntegerField(
        allow_null=True, help_text="Effective ones of u, cut off to a whole number; null where unlimited."
    )
    estimated = serializers.BooleanField()


class ScoresBody(serializers.Serializer[Any]):
    stability = ScoreBody()
    midfoot = ScoreBody()
    rearfoot = ScoreBody()
    cushioning = ScoreBody()


class ShoeBandBody(serializers.Serializer[Any]):
    order = serializers.IntegerField()
    name = serializers.CharField()
    probability = serializers.FloatField(allow_null=True)
    borderline = serializers.BooleanField()
    provisional = serializers.BooleanField()


class StoreSizesBody(serializers.Serializer[Any]):
    slug = serializers.CharField()
    sizes = serializers.ListField(child=serializers.CharField(), help_text="In stock, such as “EU 42.5”.")
    shown = serializers.CharField(
        required=False, help_text="With `sizes`: the same in the system asked for; all but eu are approximate."
    )
    known_at = serializers.DateTimeField(
        required=False,
        allow_null=True,
        help_text="With `sizes`: when the store last recorded a change of them; null where not known.",
    )


class StatedBody(serializers.Serializer[Any]):
    """What is stated of a shoe; null where it is not known."""

    slug = serializers.CharField()
    brand = serializers.CharField()
    name = serializers.CharField()
    version = serializers.CharField(allow_blank=True)
    use = serializers.ChoiceField(choices=USES)
    wearer = serializers.ChoiceField(choices=Wearer.values)
    mass_g = serializers.FloatField(allow_null=True)
    drop_mm = serializers.FloatField(allow_null=True)
    stack_heel_mm = serializers.FloatField(allow_null=True)
    stack_forefoot_mm = serializers.FloatField(allow_null=True)
    stated_size_eu = serializers.FloatField(allow_null=True, help_text="Mass and stack heights hold for this size.")
    smallest_size_eu = serializers.FloatField(allow_null=True)
    largest_size_eu = serializers.FloatField(allow_null=True)
    widths = serializers.ListField(child=serializers.CharField(), help_text="Width fittings offered.")
    price = serializers.FloatField(allow_null=True, help_text="List price in the practice’s own currency.")
    prices = serializers.DictField(child=serializers.FloatField(), help_text="List prices by ISO 4217 code.")
    season = serializers.CharField(allow_blank=True)
    removable_insole = serializers.BooleanField(allow_null=True)
    discontinued = serializers.BooleanField()
    state = serializers.ChoiceField(choices=[*STATES, DISCONTINUED])


class PhotoFileBody(serializers.Serializer[Any]):
    url = serializers.URLField()
    width_px = serializers.IntegerField()
    height_px = serializers.IntegerField()


class PhotoBody(serializers.Serializer[Any]):
    """The practice's photo of a shoe in a few widths, narrowest first."""

    alternative_text = serializers.CharField()
    files = PhotoFileBody(many=True)


class PhotoRecordBody(PhotoBody):
    """A photo for those who may change it."""

    digest = serializers.CharField()


class ShoeBody(StatedBody):
    photo = PhotoBody(allow_null=True)
    scores = ScoresBody()
    band = ShoeBandBody()
    specimens = serializers.IntegerField()
    tested_on = serializers.DateField()
    scoring_model = serializers.CharField()
    stores = StoreSizesBody(many=True)


class BarcodeBody(serializers.Serializer[Any]):
    gtin = serializers.CharField()
    size_eu = serializers.FloatField()
    width = serializers.CharField(allow_blank=True)


class ShoeRecordBody(StatedBody):
    """A shoe as the lab and head office see it; without results where none are published."""

    scores = ScoresBody(allow_null=True)
    band = ShoeBandBody(allow_null=True)
    specimens = serializers.IntegerField()
    tested_on = serializers.DateField(allow_null=True)
    scoring_model = serializers.CharField(allow_null=True)
    stores = StoreSizesBody(many=True)
    previous = serializers.CharField(allow_null=True)
    merged_into = serializers.CharField(allow_null=True)
    note = serializers.CharField(allow_blank=True)
    alternative_names = serializers.ListField(child=serializers.CharField())
    barcodes = BarcodeBody(many=True)
    edition = serializers.IntegerField(help_text="Send it with a correction.")


class BrandBody(serializers.Serializer[Any]):
    slug = serializers.CharField()
    name = serializers.CharField()


class DifferenceBody(serializers.Serializer[Any]):
    feature = serializers.CharField()
    here = serializers.FloatField(allow_null=True)
    there = serializers.FloatField(allow_null=True)
    difference = serializers.FloatField(allow_null=True)
    expanded_uncertainty = serializers.FloatField(allow_null=True)
    coverage_factor = serializers.FloatField(allow_null=True)
    degrees_of_freedom = serializers.IntegerField(allow_null=True)
    verdict = serializers.CharField(help_text="“same”, “within” the uncertainty, “beyond” it, “unknown”, “missing”.")


class SimilarBody(ShoeBody):
    distance = serializers.FloatField(help_text="1 is as far as shoes of the catalogue usually lie apart.")
    differences = DifferenceBody(many=True)


class BandBody(serializers.Serializer[Any]):
    scale = serializers.CharField()
    order = serializers.IntegerField()
    name = serializers.CharField()
    lower = serializers.FloatField(allow_null=True, help_text="Included; null where open.")
    upper = serializers.FloatField(allow_null=True, help_text="Excluded; null where open.")
    suits = serializers.CharField()
    runner_mass_max_kg = serializers.FloatField(allow_null=True)
    shoes = serializers.IntegerField()


class StoreBody(serializers.Serializer[Any]):
    slug = serializers.CharField()
    name = serializers.CharField()
    street = serializers.CharField(allow_blank=True)
    postcode = serializers.CharField(allow_blank=True)
    town = serializers.CharField(allow_blank=True)
    phone = serializers.CharField(allow_blank=True)
    hours = serializers.CharField(allow_blank=True)
    shoes = serializers.IntegerField()


class WithdrawnBody(serializers.Serializer[Any]):
    """A shoe that was published once and is not any more."""

    state = serializers.ChoiceField(choices=["withdrawn"])
    since = serializers.DateTimeField()
    reason = serializers.CharField()


def paged(name: str, results: serializers.Serializer[Any], **more: serializers.Field[Any, Any, Any, Any]) -> Any:
    return inline_serializer(
        name=name,
        fields={
            "count": serializers.IntegerField(),
            "next": serializers.URLField(allow_null=True),
            "previous": serializers.URLField(allow_null=True),
            "results": results,
            **more,
        },
    )


class CatalogueProblem(serializers.Serializer[Any]):
    detail = serializers.CharField()
    code = serializers.CharField()
    fields_ = serializers.DictField(child=serializers.ListField(child=serializers.CharField()), source="fields")

    def get_fields(self) -> dict[str, serializers.Field[Any, Any, Any, Any]]:
        # `fields` is a word of the serializer itself, so the key is put in here.
        found = super().get_fields()
        found["fields"] = found.pop("fields_")
        found["fields"].source = None
        return found


class CurveBody(serializers.Serializer[Any]):
    """What every curve has; the series have one length."""

    specimens = serializers.IntegerField()
    recordings = serializers.IntegerField(help_text="Of all specimens and tests together.")


def _series(what: str) -> serializers.ListField:
    return serializers.ListField(child=serializers.FloatField(), help_text=what)


class TorsionCurveBody(CurveBody):
    angle_deg = _series("Of the twist, rising, up to the angle of the midfoot score.")
    torque_nm = _series("The mean over the specimens.")
    torque_least_nm = _series("The least of all recordings.")
    torque_most_nm = _series("The most of all recordings.")


class CompressionCurveBody(CurveBody):
    force_n = _series("On the heel, rising, from the first contact up to the force of the rearfoot score.")
    deflection_mm = _series("From the first contact, the mean over the specimens.")
    deflection_least_mm = _series("The least of all recordings.")
    deflection_most_mm = _series("The most of all recordings.")


class CurvesBody(serializers.Serializer[Any]):
    """How a shoe behaved on the bench; null where no curves were recorded."""

    torsion = TorsionCurveBody(allow_null=True)
    compression = CompressionCurveBody(allow_null=True)


# What staff get of a shoe without published results.
SHOE_OR_RECORD = PolymorphicProxySerializer(
    component_name="ShoeOrRecord", serializers=[ShoeBody, ShoeRecordBody], resource_type_field_name=None
)
