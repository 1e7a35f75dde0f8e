"""Pages of the lab as text, the queries that they take, and a test that is held."""

from __future__ import annotations

from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from tests.labtests.bench_text import bench_bytes, curve_rows


def text_of(response) -> str:
    return " ".join(response.content.decode().split())


def page(client, name, *args, **query):
    response = client.get(reverse(f"labtests:{name}", args=args), query)
    assert response.status_code == 200, response.content[:500]
    text = text_of(response)
    assert "style=" not in text
    return text


def queries_of(client, name, *args, **query):
    with CaptureQueriesContext(connection) as found:
        page(client, name, *args, **query)
    return len(found)


def held(lab, specimen="F2-07"):
    data = bench_bytes(curve_rows([(5.1, 5.9)] * 3), specimen=specimen, temperature="30 degC")
    return lab.upload(data, name=f"{specimen}.csv").tests.get()
