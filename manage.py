#!/usr/bin/env python
"""Run a management command of Benchlast."""

from __future__ import annotations

import os
import sys

if __name__ == "__main__":
    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "config.settings")
    from core.management.run import run

    run(sys.argv)
