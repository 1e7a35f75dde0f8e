"""Tests of specimens on days of their own, with the readings that a study needs."""

from __future__ import annotations

import datetime as dt

from tests.labtests.bench_text import READINGS_ROW, readings_bytes


def row(specimen, torque, moment, *, deflection=5.9, rig="rig-1", operator="technician", repeat=1):
    template = READINGS_ROW.replace("F2-01", specimen).replace("rig-1", rig).replace("technician", operator)
    return template.replace("2026-03-04T10:15:00+00:00", moment).format(repeat, torque, deflection)


def measured(lab, *given, **more):
    """Upload one test of three repeats, so that its uncertainty is known."""
    specimen, torque, moment = given
    rows = [row(specimen, torque + d, moment, repeat=n, **more) for n, d in enumerate((-0.01, 0.0, 0.01), start=1)]
    return lab.upload(readings_bytes(rows)).tests.get()


def moment(day, hour=8):
    return (dt.datetime(2026, 2, 1, hour, tzinfo=dt.UTC) + dt.timedelta(days=day)).isoformat()
