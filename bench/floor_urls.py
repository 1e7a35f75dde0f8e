"""The product's addresses, and the floors that it is held against: the same server, database and middleware."""

from __future__ import annotations

from django.db import connection
from django.http import HttpRequest, HttpResponse
from django.urls import include, path

from core.permissions import PUBLIC, gate

REVISION = "SELECT number, changed_at FROM catalogue_cataloguerevision"
# What a page of the list shows, by one statement, without any of the counts beside it.
LIST = """
SELECT shoe.id, shoe.slug, brand.name, shoe.name, shoe.version, shoe.use, shoe.mass_g, shoe.drop_mm, card.stability,
       card.stability_u, card.midfoot, card.midfoot_u, card.rearfoot, card.rearfoot_u, card.cushioning,
       card.cushioning_u, band.name, card.band_probability, card.is_borderline, card.is_provisional
FROM catalogue_stockitem AS stock
JOIN core_store AS store ON store.id = stock.store_id
JOIN catalogue_scorecard AS card ON card.shoe_id = stock.shoe_id AND card.is_current
JOIN catalogue_band AS band ON band.id = card.band_id
JOIN catalogue_shoe AS shoe ON shoe.id = stock.shoe_id
JOIN catalogue_brand AS brand ON brand.id = shoe.brand_id
WHERE store.slug = %s AND stock.size_eu = %s AND stock.quantity > 0
  AND band."order" = %s AND shoe.use = %s AND card.cushioning >= %s
ORDER BY card.stability, shoe.slug LIMIT 24
"""
SIZES = """
SELECT stock.shoe_id, store.slug, store.name, stock.size_eu FROM catalogue_stockitem AS stock
JOIN core_store AS store ON store.id = stock.store_id
WHERE stock.shoe_id = ANY(%s) AND stock.quantity > 0 ORDER BY store.name, stock.size_eu
"""


@gate(PUBLIC)
def floor_list(request: HttpRequest) -> HttpResponse:
    """Answer the list's question by psycopg and write the rows down as they come: no ORM, no template, no counts."""
    asked = request.GET
    connection.ensure_connection()
    with connection.connection.cursor() as cursor:
        cursor.execute(REVISION)
        cursor.fetchone()
        filters = [asked["store"], asked["size"], asked["band"], asked["use"], asked["cushioning_min"]]
        rows = cursor.execute(LIST, filters).fetchall()
        sizes = cursor.execute(SIZES, [[row[0] for row in rows]]).fetchall()
    return HttpResponse("\n".join(map(str, rows)) + "\n".join(map(str, sizes)))


urlpatterns = [path("floor/list/", floor_list), path("", include("config.urls"))]
handler400, handler403, handler404, handler500 = (
    f"core.views.{name}" for name in ("bad_request", "forbidden", "not_found", "server_error")
)
