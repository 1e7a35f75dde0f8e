#!/usr/bin/env python
"""Run a management command of Benchlast."""

from __future__ import annotations

import os
import sys

from django.core.exceptions import ImproperlyConfigured
from django.core.management import execute_from_command_line

if __name__ == "__main__":
    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "config.settings")
    try:
        execute_from_command_line(sys.argv)
    except ImproperlyConfigured as problem:
        # A setting or a folder to put right: where in the code this was noticed says nothing about it.
        sys.exit(str(problem))
