"""The style sheets of every page are one file in production, and four while one works on them."""

from __future__ import annotations

import shutil
from pathlib import Path

import pytest
from django.contrib.staticfiles import finders

from core.templatetags import style_sheets as tags
from core.web.style_sheets import PARTS, WHOLE, StyleSheetStorage


@pytest.fixture
def storage(tmp_path):
    for part in PARTS:
        target = tmp_path / part
        target.parent.mkdir(exist_ok=True)
        shutil.copy(finders.find(part), target)
    return StyleSheetStorage(location=str(tmp_path), base_url="/static/")


def test_one_file_has_every_part_in_the_order_of_the_cascade(storage, tmp_path, settings):
    settings.DEBUG = False
    done = list(storage.post_process({part: (storage, part) for part in PARTS}))
    assert not [problem for *_, problem in done if isinstance(problem, Exception)]
    name = storage.stored_name(WHOLE)
    assert name != WHOLE, "named by its content"
    whole = (tmp_path / name).read_text()
    places = [whole.index(Path(finders.find(part)).read_text()) for part in PARTS]
    assert places == sorted(places)
    assert (tmp_path / f"{name}.gz").exists()


def test_other_collections_of_files_are_left_as_they_are(storage, tmp_path, settings):
    settings.DEBUG = False
    list(storage.post_process({PARTS[0]: (storage, PARTS[0])}))
    assert not (tmp_path / WHOLE).exists()


def test_pages_link_one_file_where_files_are_collected(storage, monkeypatch):
    assert [tags.site_styles().count(part) for part in PARTS] == [1] * len(PARTS)
    monkeypatch.setattr(tags, "staticfiles_storage", storage)
    assert tags.site_styles() == f'<link rel="stylesheet" href="/static/{WHOLE}">'
