"""The style sheets of every page, sent as one file in production.

A browser paints nothing before all of a page's style sheets are there, and asks a server for six files at once: with
these four in one, the sheets of any page arrive together.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from django.core.files.base import ContentFile
from whitenoise.storage import CompressedManifestStaticFilesStorage

PARTS = ("css/tokens.css", "css/base.css", "css/layout.css", "css/components.css")
"""In the order of the cascade."""
WHOLE = "css/site.css"


class StyleSheetStorage(CompressedManifestStaticFilesStorage):
    """Collected static files, with the site's style sheets in one file."""

    def post_process(self, paths: dict[str, Any], dry_run: bool = False, **options: Any) -> Iterator[Any]:
        """Write the one file before names get their digests; nothing where files are collected for another purpose."""
        if not dry_run and all(part in paths for part in PARTS):
            self.delete(WHOLE)
            self.save(WHOLE, ContentFile(b"\n".join(self._content(part) for part in PARTS)))
            paths[WHOLE] = (self, WHOLE)
        yield from super().post_process(paths, dry_run, **options)  # type: ignore[no-untyped-call]  # whitenoise has no types

    def _content(self, name: str) -> bytes:
        with self.open(name) as file:
            content: bytes = file.read()
        return content
