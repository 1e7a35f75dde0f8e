"""Pack the program of a release for `test_upgrade`: ``python -m tests.upgrade.make_program COMMIT``.

To be run once for a release, with the commit that it goes out as; the tests run that program on the tables of later
ones. Static files, migrations and commands are left out, since it only answers requests there.
"""

from __future__ import annotations

import lzma
import subprocess
import sys

from tests.upgrade.make_dump import DUMP, RELEASE

PROGRAM = DUMP.with_name(f"release_{RELEASE}.program.tar.xz")
PARTS = (
    *("core", "catalogue", "labtests", "fittings", "config", "templates", "fixtures/__init__.py", "fixtures/apps.py"),
    *(f":(exclude,glob)**/{folder}/**" for folder in ("static", "migrations", "management")),
)


def main() -> None:
    packed = subprocess.run(["git", "archive", sys.argv[1], "--", *PARTS], capture_output=True, check=True).stdout
    PROGRAM.write_bytes(lzma.compress(packed, preset=9 | lzma.PRESET_EXTREME))
    sys.stdout.write(f"{PROGRAM.stat().st_size // 1000} kB\n")


if __name__ == "__main__":
    main()
