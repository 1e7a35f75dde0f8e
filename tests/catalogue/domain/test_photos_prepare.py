"""Photos: written again in three widths, upright, without metadata; what is no photo is refused."""

from __future__ import annotations

import re
from contextlib import suppress

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from PIL import Image, ImageCms, ImageFile

from catalogue.domain import photos
from catalogue.domain.photos import prepare
from core.domain.errors import DomainError
from tests.catalogue.photo_files import decoded, encoded, picture

TAGS = {"maker": 0x010F, "orientation": 0x0112, "copyright": 0x8298}


def sizes_of(prepared):
    return [(rendition.width_px, rendition.height_px) for rendition in prepared.renditions]


@pytest.mark.parametrize("kind", ["JPEG", "PNG", "WEBP", "AVIF"])
def test_photo_is_written_as_webp_in_three_widths(kind):
    prepared = prepare(encoded(picture(1700, 850), kind))
    assert sizes_of(prepared) == [(400, 200), (800, 400), (1600, 800)]
    for rendition in prepared.renditions:
        image = decoded(rendition.data)
        assert (image.format, image.mode, image.size) == ("WEBP", "RGB", (rendition.width_px, rendition.height_px))


def test_narrow_photo_is_not_enlarged():
    assert sizes_of(prepare(encoded(picture(700, 350)))) == [(400, 200), (700, 350)]
    assert sizes_of(prepare(encoded(picture(320, 320)))) == [(320, 320)]


def test_orientation_is_applied_and_metadata_is_dropped():
    exif = Image.Exif()
    exif[TAGS["maker"]], exif[TAGS["copyright"]], exif[TAGS["orientation"]] = "Camera of Ada", "Ada", 6
    image = picture(800, 400)
    image.paste((250, 0, 0), (0, 0, 800, 60))  # the top edge, which orientation 6 (DEF, Exif 2.3) turns to the right
    data = encoded(image, exif=exif, comment=b"taken at home", quality=95)
    assert b"Camera of Ada" in data
    prepared = prepare(data)
    assert sizes_of(prepared) == [(400, 800)]
    turned = decoded(prepared.renditions[0].data)
    red, _, _ = turned.getpixel((390, 400))
    assert red > 200
    assert turned.getpixel((10, 400))[0] < 200
    assert not turned.getexif()
    assert {"exif", "icc_profile", "xmp", "comment"} & turned.info.keys() == set()
    assert b"Ada" not in prepared.renditions[0].data


def test_large_photo_keeps_its_orientation_though_it_is_reduced_first():
    exif = Image.Exif()
    exif[TAGS["orientation"]] = 8
    prepared = prepare(encoded(Image.new("L", (6800, 6400)), "PNG", exif=exif))
    assert sizes_of(prepared)[-1] == (1600, 1700)


def test_transparent_parts_become_white():
    image = picture().convert("RGBA")
    image.putalpha(0)
    assert decoded(prepare(encoded(image, "PNG")).renditions[0].data).getpixel((5, 5)) == (255, 255, 255)


def test_palette_with_a_transparent_colour_is_read():
    image = picture().convert("P")
    data = encoded(image, "PNG", transparency=image.getpixel((0, 0)))
    assert decoded(prepare(data).renditions[0].data).mode == "RGB"


def test_sixteen_bits_of_grey_keep_their_brightness():
    grey = Image.fromarray(np.full((400, 400), 40_000, dtype=np.uint16))
    assert decoded(prepare(encoded(grey, "PNG")).renditions[0].data).getpixel((9, 9))[0] == pytest.approx(156, abs=2)


def test_cmyk_is_read():
    assert decoded(prepare(encoded(picture().convert("CMYK"))).renditions[0].data).mode == "RGB"


def test_colours_are_converted_from_their_profile(monkeypatch):
    green = Image.new("RGB", (900, 600), (0, 200, 0))

    def converted(image, source, target, outputMode):
        assert ImageCms.getProfileDescription(source).startswith("sRGB")
        return green

    monkeypatch.setattr(ImageCms, "profileToProfile", converted)
    profile = ImageCms.ImageCmsProfile(ImageCms.createProfile("sRGB")).tobytes()
    pixel = decoded(prepare(encoded(picture(), icc_profile=profile)).renditions[0].data).getpixel((200, 130))
    assert pixel == pytest.approx((0, 200, 0), abs=4)


def test_profile_that_does_not_fit_is_ignored():
    data = encoded(picture(), "PNG", icc_profile=b"this is no profile")
    assert len(prepare(data).renditions) == 3


def test_second_picture_in_a_jpeg_is_no_animation():
    # Phones put a depth map or a second exposure behind the photo (MPO).
    data = encoded(picture(), "MPO", save_all=True, append_images=[picture(seed=2)])
    assert sizes_of(prepare(data))[0] == (400, 267)


def test_same_picture_has_the_same_digest_and_another_has_not():
    data = encoded(picture())
    assert prepare(data).digest == prepare(data).digest
    assert prepare(encoded(picture(seed=2))).digest != prepare(data).digest


def animated(kind):
    return encoded(picture(), kind, save_all=True, append_images=[picture(seed=2)])


REFUSED = {
    "empty": (lambda: b"", "empty"),
    "text": (lambda: b"width,height\n1,2\n", "not a photo"),
    "svg": (lambda: b'<svg xmlns="http://www.w3.org/2000/svg"/>', "SVG"),
    "svg with a prolog": (lambda: b'\xef\xbb\xbf<?xml version="1.0"?><svg/>', "SVG"),
    "gif": (lambda: encoded(picture(), "GIF"), "GIF"),
    "animated gif": (lambda: animated("GIF"), "GIF"),
    "animated png": (lambda: animated("PNG"), "animated"),
    "animated webp": (lambda: animated("WEBP"), "animated"),
    "animated avif": (lambda: animated("AVIF"), "animated"),
    "tiff": (lambda: encoded(picture(), "TIFF"), "not a photo"),
    "pdf": (lambda: encoded(picture(), "PDF"), "not a photo"),
    "truncated jpeg": (lambda: encoded(picture())[:-2000], "damaged or incomplete"),
    "truncated png": (lambda: encoded(picture(), "PNG")[:-2000], "damaged or incomplete"),
    "truncated webp": (lambda: encoded(picture(), "WEBP")[:-1000], "damaged or incomplete"),
    "header alone": (lambda: encoded(picture(), "PNG")[:40], "not a photo"),
    "100 megapixels": (lambda: encoded(Image.new("1", (10_000, 10_000)), "PNG"), "at most 50 million"),
    "200 megapixels": (lambda: encoded(Image.new("1", (20_000, 10_000)), "PNG"), "at most 50 million"),
    "too small": (lambda: encoded(picture(299, 400)), "at least 300"),
    "a strip": (lambda: encoded(Image.new("1", (2000, 400)), "PNG"), "too narrow a strip"),
}


@pytest.mark.parametrize("name", REFUSED)
def test_refused_with_a_sentence_of_the_field(name):
    make, words = REFUSED[name]
    with pytest.raises(DomainError, match=re.escape(words)) as caught:
        prepare(make())
    assert caught.value.fields == {"photo": [caught.value.message]}


def test_size_is_refused_before_anything_is_decoded(monkeypatch):
    data = encoded(Image.new("1", (8000, 7000)), "PNG")

    def fail(self):
        pytest.fail("decoded")

    monkeypatch.setattr(ImageFile.ImageFile, "load", fail)
    with pytest.raises(DomainError, match="8000 × 7000 pixels; at most 50 million"):
        prepare(data)


def test_too_many_bytes_are_refused_unread(monkeypatch):
    monkeypatch.setattr(photos, "BYTES_MOST", 1000)
    with pytest.raises(DomainError) as caught:
        prepare(encoded(picture()))
    assert (caught.value.code, caught.value.status) == ("too_large", 413)


_BASES = {kind: encoded(picture(320, 310), kind) for kind in ("JPEG", "PNG", "WEBP", "AVIF")}


@settings(max_examples=30)
@given(
    kind=st.sampled_from(sorted(_BASES)),
    changes=st.lists(st.tuples(st.integers(0, 5000), st.integers(0, 255)), min_size=1, max_size=6),
)
def test_damaged_file_is_read_or_refused_and_nothing_else(kind, changes):
    data = bytearray(_BASES[kind])
    for place, value in changes:
        data[place % len(data)] = value
    with suppress(DomainError):  # any other error fails the test
        assert len(prepare(bytes(data)).renditions) == 1
