"""The OpenAPI schema of addresses with checked query keys.

Apart from `core.web.api` because the schema's generator imports REST framework's views, which import that module.
"""

from __future__ import annotations

from typing import Any

from drf_spectacular.openapi import AutoSchema

from core.web.api import QueryView


class QuerySchema(AutoSchema):
    """States the query keys that a `QueryView` accepts, from the fields that check them."""

    def get_override_parameters(self) -> list[Any]:
        stated: list[Any] = super().get_override_parameters()
        view: Any = self.view
        has_keys = isinstance(view, QueryView) and self.method == "GET" and view.query().fields
        return [*stated, view.query] if has_keys else stated
