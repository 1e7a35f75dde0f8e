"""The application for a WSGI server."""

from __future__ import annotations

import os

from django.core.wsgi import get_wsgi_application

os.environ.setdefault("DJANGO_SETTINGS_MODULE", "config.settings")
application = get_wsgi_application()

from core.operations import error_reports, garbage  # noqa: E402  need the apps

error_reports.start()
garbage.search_less_often()
