"""Request bodies in which nothing unknown is passed over: a key that the schema does not name is refused by name."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, ClassVar

from drf_spectacular.extensions import OpenApiSerializerExtension
from rest_framework import serializers

from core.domain.quoting import quoted


class StrictSerializer(serializers.Serializer[Any]):
    """A body whose unknown keys are refused, each by its name; `renamed` has keys of earlier versions."""

    renamed: ClassVar[Mapping[str, str]] = {}

    def to_internal_value(self, data: Any) -> Any:
        unknown = [key for key in data if key not in self.fields] if isinstance(data, Mapping) else []
        if unknown:
            raise serializers.ValidationError({str(key)[:80]: [self._unknown_words(str(key))] for key in unknown})
        return super().to_internal_value(data)

    def _unknown_words(self, key: str) -> str:
        if key in self.renamed:
            return f"{key[:80]} is now called {self.renamed[key]}. Send the value under that name."
        known = ", ".join(self.fields) or "none"
        return f"There is no key {quoted(key)} here. Known keys: {known}."


class StrictSerializerSchema(OpenApiSerializerExtension):  # type: ignore[no-untyped-call]
    """Say in the schema that a strict body has no other keys."""

    target_class = StrictSerializer
    match_subclasses = True

    def map_serializer(self, auto_schema: Any, direction: Any) -> Any:
        schema = auto_schema._map_serializer(self.target, direction, bypass_extensions=True)
        return schema | {"additionalProperties": False}


class Text(serializers.CharField):
    """A text; a number is not taken for one."""

    def to_internal_value(self, data: Any) -> str:
        if not isinstance(data, str):
            self.fail("invalid")
        return super().to_internal_value(data)


class Email(Text, serializers.EmailField):
    """An e-mail address."""


class Flag(serializers.BooleanField):
    """true, false or null; words and numbers are not taken for them."""

    def __init__(self, *, help_text: str = "") -> None:
        super().__init__(required=False, allow_null=True, help_text=help_text)

    def to_internal_value(self, data: Any) -> bool:
        if not isinstance(data, bool):
            self.fail("invalid", input=data)
        return data
