"""The product's addresses, and the floor that it is held against: the same server, database and middleware."""

from __future__ import annotations

from decimal import Decimal

import psycopg
from django.db import connection
from django.http import HttpRequest, HttpResponse
from django.urls import include, path

from core.gate.access import PUBLIC, gate

REVISION = "SELECT number, changed_at FROM catalogue_cataloguerevision"
HELD = """
FROM catalogue_stockitem AS stock
JOIN core_store AS store ON store.id = stock.store_id
JOIN catalogue_scorecard AS card ON card.shoe_id = stock.shoe_id AND card.is_current
JOIN catalogue_band AS band ON band.id = card.band_id
JOIN catalogue_shoe AS shoe ON shoe.id = stock.shoe_id
"""
WHERE = "WHERE store.slug = %s AND stock.size_eu = %s AND stock.quantity > 0 AND card.cushioning >= %s"
# A page of the list as it is shown, and of its shoes the sizes that some store has.
LIST = f"""
SELECT shoe.id, shoe.slug, brand.name, shoe.name, shoe.version, shoe.use, shoe.mass_g, shoe.drop_mm, card.stability,
       card.stability_u, card.midfoot, card.midfoot_u, card.rearfoot, card.rearfoot_u, card.cushioning,
       card.cushioning_u, band.name, card.band_probability, card.is_borderline, card.is_provisional
{HELD} JOIN catalogue_brand AS brand ON brand.id = shoe.brand_id
{WHERE} AND band."order" = %s AND shoe.use = %s ORDER BY card.stability, shoe.slug LIMIT 24
"""
SIZES = (
    "SELECT DISTINCT shoe_id, size_eu FROM catalogue_stockitem WHERE shoe_id = ANY(%s) AND quantity > 0 ORDER BY 1, 2"
)
# The counts beside the choices need the shoes of every band and use; the bars count along the scale, in 120 steps.
COUNTS = f"""
SELECT band."order", shoe.use, width_bucket(card.stability, 10, 110, 120), count(*) {HELD} {WHERE} GROUP BY 1, 2, 3
"""


@gate(PUBLIC)
def floor_list(request: HttpRequest) -> HttpResponse:
    """Answer the list's questions by psycopg and write the rows down as they come: no ORM, no template.

    The statements are planned once a connection, as the page's are. What the page keeps while the catalogue stays as it
    is (the bars of all shoes, the options of the form) is not asked here at all.
    """
    asked = request.GET
    connection.ensure_connection()
    connection.connection.prepare_threshold = 0
    with psycopg.Cursor(connection.connection) as cursor:
        cursor.execute(REVISION).fetchone()
        held = [asked["store"], Decimal(asked["size"]), float(asked["cushioning_min"])]
        rows = cursor.execute(LIST, [*held, int(asked["band"]), asked["use"]]).fetchall()
        sizes = cursor.execute(SIZES, [[row[0] for row in rows]]).fetchall()
        counts = cursor.execute(COUNTS, held).fetchall()
    return HttpResponse("\n".join(map(str, [*rows, *sizes, *counts])))


urlpatterns = [path("floor/list/", floor_list), path("", include("config.urls"))]
handler400, handler403, handler404, handler500 = (
    f"core.views.{name}" for name in ("bad_request", "forbidden", "not_found", "server_error")
)
