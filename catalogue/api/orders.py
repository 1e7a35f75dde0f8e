"""The API of a store's order list."""

from __future__ import annotations

from typing import Any, ClassVar

from django.utils import timezone
from drf_spectacular.utils import extend_schema
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response

from catalogue import permissions as permissions  # registers the action named below
from catalogue.api.bodies import CatalogueProblem, paged
from catalogue.api.saving import own_store
from catalogue.domain.sizes import written_size
from catalogue.selectors.stock.stock_work import ORDER_DAYS, OrderLine, order_lines
from core.models import Store
from core.web.api import PageQuery, PracticePagination, QueryView

READ = "catalogue.order:read"


class OrderLineBody(serializers.Serializer[Any]):
    """One size of a shoe in one width, and how many pairs of it to order."""

    shoe = serializers.CharField(help_text="Address of the shoe.")
    title = serializers.CharField(help_text="Brand, name and version.")
    size_eu = serializers.FloatField()
    size = serializers.CharField(help_text="As the store writes it.")
    width = serializers.CharField(allow_null=True, help_text="null for pairs whose width is not known.")
    in_stock = serializers.IntegerField()
    reserved = serializers.IntegerField()
    on_the_way = serializers.IntegerField()
    sold = serializers.IntegerField(help_text=f"Over {ORDER_DAYS} days, less returns.")
    chosen = serializers.IntegerField(help_text=f"At fittings of the store over {ORDER_DAYS} days.")
    to_order = serializers.IntegerField(
        help_text="The larger of sold and chosen, plus reserved, less what is in stock and on the way; spare pairs of "
        "unknown width count for the widths that lack most."
    )


def order_body(line: OrderLine, store: Store) -> dict[str, Any]:
    count = line.count
    return {
        "shoe": line.slug,
        "title": line.title,
        "size_eu": float(line.size_eu),
        "size": written_size(line.size_eu, store.size_system),
        "width": count.width or None,
        "in_stock": count.held,
        "reserved": count.reserved,
        "on_the_way": count.on_the_way,
        "sold": count.sold,
        "chosen": count.chosen,
        "to_order": count.to_order,
    }


class StoreOrderView(QueryView):
    """What a store could order."""

    permission: ClassVar = {"GET": READ}
    query = PageQuery

    @extend_schema(
        operation_id="catalogue_store_orders",
        responses={
            200: paged("OrderPage", OrderLineBody(many=True)),
            **dict.fromkeys((400, 401, 403, 404, 429), CatalogueProblem),
        },
    )
    def get(self, request: Request, slug: str) -> Response:
        """List what was sold, chosen or reserved at a store of the caller by size and width, most to order first."""
        store = own_store(request, slug, READ)
        pagination = PracticePagination()
        lines: Any = order_lines(store, timezone.localdate())
        page: list[OrderLine] = pagination.paginate_queryset(lines, request, view=self) or []
        return pagination.get_paginated_response([order_body(line, store) for line in page])
