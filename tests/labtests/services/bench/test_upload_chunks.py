"""A ZIP is judged in chunks by what its files unpack to, so that one of large files needs no more memory."""

from __future__ import annotations

import pytest

from labtests.domain.files.submission import SubmittedFile
from labtests.services.bench import uploads


@pytest.mark.parametrize(
    ("sizes", "chunks"),
    [
        ([], []),
        ([1] * 7, [3, 3, 1]),
        ([10, 1, 1], [1, 2]),
        ([4, 4, 4, 4], [3, 1]),
        ([30, 30], [1, 1]),
    ],
)
def test_chunk_ends_with_enough_files_or_bytes(monkeypatch, sizes, chunks):
    monkeypatch.setattr(uploads, "CHUNK_FILES", 3)
    monkeypatch.setattr(uploads, "CHUNK_BYTES", 10)
    opened = []

    def files():
        for size in sizes:
            opened.append(size)
            yield SubmittedFile("a.csv", "", size_bytes=size)

    seen = 0
    for chunk, expected in zip(uploads._chunks(files()), chunks, strict=True):
        seen += expected
        assert len(chunk) == expected
        # Nothing of the next chunk has been unpacked yet.
        assert len(opened) == seen
