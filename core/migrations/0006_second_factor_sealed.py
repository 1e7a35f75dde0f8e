"""Secrets of the second factor are sealed where they lie."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any, ClassVar

from django.db import migrations

from core.database.sealing import seal, unseal

PURPOSE = "second factor"


def _turned(turn: Callable[..., bytes]) -> Callable[[Any, Any], None]:
    def over_all(apps: Any, _: Any) -> None:
        for device in apps.get_model("otp_totp", "TOTPDevice").objects.all():
            device.key = turn(bytes.fromhex(device.key), purpose=PURPOSE, owner=str(device.user_id)).hex()
            device.save(update_fields=["key"])

    return over_all


class Migration(migrations.Migration):
    dependencies: ClassVar = [("core", "0005_trail_uncompressed"), ("otp_totp", "0003_add_timestamps")]

    operations: ClassVar = [
        migrations.CreateModel(
            name="SealedDevice",
            fields=[],
            options={"proxy": True, "indexes": [], "constraints": []},
            bases=("otp_totp.totpdevice",),
        ),
        migrations.RunPython(_turned(seal), _turned(unseal)),
    ]
