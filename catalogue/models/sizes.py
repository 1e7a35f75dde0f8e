"""The EU sizes there can be."""

from __future__ import annotations

from decimal import Decimal

EU_SIZE_MIN, EU_SIZE_MAX = Decimal("15"), Decimal("55")
