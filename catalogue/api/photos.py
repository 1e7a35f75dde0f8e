"""The API of a shoe's photo, for the lab and head office."""

from __future__ import annotations

from typing import ClassVar

from drf_spectacular.utils import extend_schema
from rest_framework import serializers
from rest_framework.parsers import MultiPartParser
from rest_framework.request import Request
from rest_framework.response import Response

from catalogue import permissions as permissions  # registers the action named below
from catalogue import services
from catalogue.api.bodies import CatalogueProblem, PhotoRecordBody
from catalogue.api.saving import read_body
from catalogue.api.shoe_bodies import photo_body
from catalogue.domain.photos import check_size
from catalogue.models import ALTERNATIVE_TEXT_MAX_LENGTH, Shoe
from catalogue.selectors.public.photos import photo_of
from catalogue.selectors.records.shoe_records import record_at
from core.domain.errors import DomainError
from core.web.api import QueryView
from core.web.requests import actor_of
from core.web.strict import StrictSerializer, Text

WRITE = "catalogue.shoe:write"
_PROBLEMS = dict.fromkeys((400, 401, 403, 404, 409, 429), CatalogueProblem)
_SEEN = "Digest of the photo that is there, as GET answers it; empty where there is none."


class PhotoInput(StrictSerializer):
    """A photo, or another text for the one that is there."""

    photo = serializers.FileField(
        required=False, allow_empty_file=True, help_text="JPEG, PNG, WebP or AVIF, up to 20 MB and 50 million pixels."
    )
    alternative_text = Text(max_length=ALTERNATIVE_TEXT_MAX_LENGTH, help_text="What it shows, in one sentence.")
    seen = Text(required=False, allow_blank=True, default="", max_length=64, help_text=_SEEN)


class PhotoSeenInput(StrictSerializer):
    """Which photo is to be removed."""

    seen = Text(max_length=64, help_text=_SEEN)


class ShoePhotoView(QueryView):
    """The photo of one shoe, published or not."""

    permission: ClassVar = {"GET": WRITE, "PUT": WRITE, "DELETE": WRITE}
    parser_classes = (MultiPartParser,)

    @extend_schema(operation_id="catalogue_photo", responses={200: PhotoRecordBody, **_PROBLEMS})
    def get(self, request: Request, slug: str) -> Response:
        """Answer with the photo and its digest; 404 where there is none."""
        return _answer(record_at(slug))

    @extend_schema(
        operation_id="catalogue_photo_set",
        request={"multipart/form-data": PhotoInput},
        responses={200: PhotoRecordBody, 413: CatalogueProblem, **_PROBLEMS},
    )
    def put(self, request: Request, slug: str) -> Response:
        """Give a shoe a photo, another one, or another text. 409 where somebody changed the photo since `seen`."""
        shoe, given = record_at(slug), read_body(PhotoInput, request)
        words = {"alternative_text": given["alternative_text"], "seen": given["seen"]}
        if "photo" in given:
            check_size(given["photo"].size)
            services.photo_set(actor=actor_of(request), shoe=shoe, data=given["photo"].read(), **words)
        else:
            services.photo_describe(actor=actor_of(request), shoe=shoe, **words)
        return _answer(shoe)

    @extend_schema(
        operation_id="catalogue_photo_remove",
        request={"multipart/form-data": PhotoSeenInput},
        responses={204: None, **_PROBLEMS},
    )
    def delete(self, request: Request, slug: str) -> Response:
        """Remove the photo with its files; the shoe's page shows a drawing again."""
        shoe, given = record_at(slug), read_body(PhotoSeenInput, request)
        services.photo_remove(actor=actor_of(request), shoe=shoe, seen=given["seen"])
        return Response(status=204)


def _answer(shoe: Shoe) -> Response:
    photo = photo_of(shoe.pk)
    if photo is None:
        raise DomainError("This shoe has no photo.", code="no_photo", status=404)
    body = {"digest": photo.digest, **photo_body(photo)}
    return Response(body, headers={"Cache-Control": "private, no-store"})
