"""Numbers that the API takes in, within the limits of the domain."""

from __future__ import annotations

import math
from typing import Any

from rest_framework import serializers

from fittings.domain.bounds import LIMITS


class Number(serializers.FloatField):
    """A finite number within the limits of the domain; missing and null mean not known."""

    def __init__(self, limits: str) -> None:
        low, high = LIMITS[limits]
        super().__init__(required=False, allow_null=True, min_value=low, max_value=high)

    def to_internal_value(self, data: Any) -> float:
        if isinstance(data, bool) or not isinstance(data, (int, float)):
            self.fail("invalid")
        value = super().to_internal_value(data)
        if not math.isfinite(value):
            self.fail("invalid")
        return value


class Whole(serializers.IntegerField):
    """A whole number within the limits of the domain; missing and null mean not known."""

    def __init__(self, limits: str, *, required: bool = False) -> None:
        low, high = LIMITS[limits]
        super().__init__(required=required, allow_null=not required, min_value=int(low), max_value=int(high))

    def to_internal_value(self, data: Any) -> int:
        if isinstance(data, bool) or not isinstance(data, (int, float)):
            self.fail("invalid")
        return super().to_internal_value(data)
