"""Log lines and error reports say what failed and nothing about people."""

from __future__ import annotations

import json
import logging

from core.gate.context import origin
from core.operations.error_reports import without_people
from core.web.logs import MaskingJsonFormatter, RequestIdFilter


def _record(message, **extra):
    record = logging.makeLogRecord({"name": "some.logger", "levelno": logging.ERROR, "levelname": "ERROR", **extra})
    record.msg = message
    return record


def test_json_line_has_the_request_and_no_link():
    formatter = MaskingJsonFormatter("{asctime} {levelname} {name} {message} {request_id}", style="{")
    record = _record("Not Found: /f/the-secret:token/")
    with origin("page", request_id="c0ffee0123"):
        assert RequestIdFilter().filter(record)
    line = json.loads(formatter.format(record))
    assert line["message"] == "Not Found: /f/…/"
    assert line["request_id"] == "c0ffee0123"
    assert line["levelname"] == "ERROR"


def test_line_about_an_answer_has_the_id_of_its_request(client, db, caplog):
    response = client.get("/no-such-page/")
    (record,) = [item for item in caplog.records if item.name == "django.request"]
    assert RequestIdFilter().filter(record)
    assert record.request_id == response.headers["X-Request-Id"]


def test_report_keeps_the_method_and_drops_people():
    event = {
        "request": {"method": "POST", "url": "https://x/f/secret/", "data": {"pain": 9}, "cookies": {"sessionid": "s"}},
        "user": {"email": "somebody@example.org"},
        "exception": {
            "values": [
                {"value": "duplicate key\nDETAIL: Key (email)=(somebody@example.org) already exists."},
                {"value": "no card at /f/the-secret:token/"},
            ]
        },
    }
    sent = without_people(event, {})
    assert sent["request"] == {"method": "POST"}
    assert "user" not in sent
    assert [entry["value"] for entry in sent["exception"]["values"]] == ["duplicate key", "no card at /f/…/"]
