"""Make the dump of this release that `test_upgrade` restores: ``.venv/bin/python -m tests.upgrade.make_dump``.

To be run once for a release, just before it goes out, and not again afterwards: the dump has to be what that release
wrote. It needs no database; it starts one of its own in a temporary folder.
"""

from __future__ import annotations

import gzip
import os
import sys
import tempfile
from pathlib import Path

RELEASE = "0_1"
DUMP = Path(__file__).with_name(f"release_{RELEASE}.dump.gz")


def main() -> None:
    with tempfile.TemporaryDirectory() as folder:
        os.environ |= {"BENCHLAST_DATA": folder, "DEBUG": "1", "DJANGO_SETTINGS_MODULE": "config.settings"}
        os.environ.pop("DATABASE_URL", None)
        import django

        django.setup()
        from django.core.management import call_command
        from django.db import connection

        from core.gate import row_scope
        from tests.upgrade.practice import fill

        call_command("migrate", verbosity=0)
        with row_scope.everything():
            fill()
        call_command("verify_audit")
        plain = Path(folder, "plain.dump")
        call_command("backup", str(plain))
        connection.close()
        DUMP.write_bytes(gzip.compress(plain.read_bytes(), mtime=0))
    sys.stdout.write(f"{DUMP.stat().st_size // 1000} kB\n")


if __name__ == "__main__":
    main()
