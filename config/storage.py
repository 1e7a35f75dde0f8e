"""Where files are stored: a folder, or an S3-compatible bucket that all application servers share."""

from __future__ import annotations

import os
from pathlib import Path
from typing import Any

from config import env


def uploads(data_dir: Path) -> dict[str, Any]:
    """Return where photos and certificates are stored.

    No file has an address of its own there. The application's pages send each to those who may see it.
    """
    return _bucket("UPLOADS") or _folder(
        env.folder("UPLOADS_FOLDER", data_dir / "uploads"),
        file_permissions_mode=0o600,
        directory_permissions_mode=0o700,
    )


def audit_heads() -> dict[str, Any]:
    """Return where signed heads of the audit trail are sent, by the name of the storage: nothing where nowhere."""
    folder = os.environ.get("AUDIT_HEAD_FOLDER", "")
    storage = _bucket("AUDIT_HEAD") or (_folder(Path(folder)) if folder else None)
    return {"audit_heads": storage} if storage else {}


def _bucket(prefix: str) -> dict[str, Any] | None:
    """Return the bucket that the settings with a prefix name, None where they name none.

    The keys come from AWS_ACCESS_KEY_ID and AWS_SECRET_ACCESS_KEY, or from the machine's role.
    """
    name = os.environ.get(f"{prefix}_BUCKET", "")
    if not name:
        return None
    endpoint = os.environ.get(f"{prefix}_ENDPOINT", "") or None
    options = {"bucket_name": name, "endpoint_url": endpoint, "file_overwrite": False, "default_acl": None}
    return {"BACKEND": "storages.backends.s3.S3Storage", "OPTIONS": options}


def _folder(location: Path, **options: Any) -> dict[str, Any]:
    backend = "django.core.files.storage.FileSystemStorage"
    return {"BACKEND": backend, "OPTIONS": {"location": str(location), **options}}
