"""Photos of shoes: decoded, turned upright and written again in a few widths, without anything else the file had."""

from __future__ import annotations

import hashlib
import io
import struct
import zlib
from dataclasses import dataclass

from PIL import Image, ImageCms, ImageOps, UnidentifiedImageError

from core.domain.errors import DomainError
from core.domain.figures import grouped

WIDTHS_PX = (400, 800, 1600)
BYTES_MOST = 20 * 1024 * 1024
PIXELS_MOST = 50_000_000
SIDE_LEAST_PX = 300
RATIO_MOST = 4
QUALITY = 80
READ = ("JPEG", "PNG", "WEBP", "AVIF")
GROUND = (255, 255, 255)

# What Pillow raises for damaged files; it documents OSError and SyntaxError alone, its decoders raise the others too.
_DAMAGED = (
    OSError,
    SyntaxError,
    ValueError,
    EOFError,
    LookupError,
    TypeError,
    RuntimeError,
    struct.error,
    zlib.error,
)
_TOO_LARGE = (Image.DecompressionBombError, Image.DecompressionBombWarning)


@dataclass(frozen=True, slots=True)
class Rendition:
    """A photo in one width: a WebP file."""

    width_px: int
    height_px: int
    data: bytes


@dataclass(frozen=True, slots=True)
class PreparedPhoto:
    """A photo in its widths, narrowest first, and a digest of all of them (hexadecimal)."""

    digest: str
    renditions: tuple[Rendition, ...]


def _refusal(message: str, code: str = "bad_photo", status: int = 400) -> DomainError:
    return DomainError(message, code=code, status=status, fields={"photo": [message]})


def check_size(size: int) -> None:
    """Refuse a file by its size in bytes, before it is read.

    Raises
    ------
    DomainError
        413, above `BYTES_MOST`.
    """
    if size > BYTES_MOST:
        most = BYTES_MOST // (1024 * 1024)
        raise _refusal(f"The photo has {grouped(size)} bytes; at most {most} MB are read.", "too_large", 413)


def _check_bytes(data: bytes) -> None:
    check_size(len(data))
    if not data:
        raise _refusal("The file is empty.")
    start = data[:1024].lstrip(b"\xef\xbb\xbf \t\r\n").lower()
    if start.startswith((b"<svg", b"<?xml", b"<!doctype")) or b"<svg" in start:
        raise _refusal("This is a drawing (SVG), not a photo. Send a JPEG, PNG, WebP or AVIF file.")
    if data.startswith(b"GIF8"):
        raise _refusal("GIF files are not read. Save the picture as JPEG or PNG.")


def _opened(data: bytes) -> Image.Image:
    """Read the header alone and refuse by it what must not be decoded."""
    try:
        image = Image.open(io.BytesIO(data), formats=READ)
        frames = 1 if image.format == "MPO" else int(getattr(image, "n_frames", 1))
    except _TOO_LARGE as problem:
        raise _too_many_pixels() from problem
    except UnidentifiedImageError as problem:
        raise _refusal("This is not a photo that can be read. Send a JPEG, PNG, WebP or AVIF file.") from problem
    except _DAMAGED as problem:
        raise _damaged() from problem
    if image.width * image.height > PIXELS_MOST:
        raise _too_many_pixels(image.width, image.height)
    if frames > 1:
        raise _refusal("This picture is animated. Send a photo that does not move.")
    _check_sides(image.width, image.height)
    return image


def _too_many_pixels(width: int = 0, height: int = 0) -> DomainError:
    pixels = f"{grouped(width)} × {grouped(height)}" if width else "far too many"
    size = f"The photo has {pixels} pixels"
    return _refusal(f"{size}; at most {PIXELS_MOST // 1_000_000} million are read. Send a smaller version.")


def _damaged() -> DomainError:
    return _refusal("The file is damaged or incomplete. Send it again, or open it and save it again first.")


def _check_sides(width: int, height: int) -> None:
    short, long = sorted((width, height))
    if short < SIDE_LEAST_PX:
        raise _refusal(
            f"The photo is {width} × {height} pixels; each side must have at least {SIDE_LEAST_PX}. Send a larger one."
        )
    if long > RATIO_MOST * short:
        raise _refusal(f"The photo is {width} × {height} pixels, too narrow a strip. Crop it around the shoe.")


def _in_srgb(image: Image.Image) -> Image.Image:
    """Return the photo in sRGB, on white where it was transparent, 8 bits a channel."""
    profile = image.info.get("icc_profile")
    if image.mode.startswith("I"):
        # 16 bits of grey. Pillow would cut off everything above 255.
        image = image.convert("I").point(lambda value: value / 256).convert("L")
    if image.mode in ("P", "PA", "LA", "RGBA", "La", "RGBa") or "transparency" in image.info:
        above = image.convert("RGBA")
        ground = Image.new("RGBA", above.size, (*GROUND, 255))
        return Image.alpha_composite(ground, above).convert("RGB")
    if profile and image.mode in ("RGB", "CMYK", "L"):
        try:
            source = ImageCms.ImageCmsProfile(io.BytesIO(profile))
            turned = ImageCms.profileToProfile(image, source, ImageCms.createProfile("sRGB"), outputMode="RGB")
        except (ImageCms.PyCMSError, *_DAMAGED):
            return image.convert("RGB")  # a profile that does not fit is no reason to refuse the photo
        return turned if turned is not None else image.convert("RGB")
    return image.convert("RGB")


def _decoded(image: Image.Image) -> Image.Image:
    try:
        # JPEG files can be decoded in a fraction of the size, which is enough here and saves most of the memory.
        image.draft(None, (WIDTHS_PX[-1], WIDTHS_PX[-1]))
        image.load()
        return _in_srgb(ImageOps.exif_transpose(_reduced(image)))
    except (*_DAMAGED, *_TOO_LARGE) as problem:
        raise _damaged() from problem
    except MemoryError as problem:
        raise _too_many_pixels() from problem


def _reduced(image: Image.Image) -> Image.Image:
    """Return a large photo in a fraction of its size, so that what follows needs little memory."""
    factor = min(image.size) // (2 * WIDTHS_PX[-1])
    can_be_averaged = image.mode in ("RGB", "RGBA", "L", "LA", "CMYK")
    if factor < 2 or not can_be_averaged:
        return image
    smaller = image.reduce(factor)
    # `info` is copied, with the colour profile; Exif, which says which way is up, is not.
    smaller.getexif().update(image.getexif())
    return smaller


def _rendition(image: Image.Image, width: int) -> Rendition:
    height = max(1, round(image.height * width / image.width))
    # A new picture, so that nothing in `info` (Exif with places and names, profiles, comments) is written.
    plain = Image.new("RGB", (width, height))
    plain.paste(image.resize((width, height), Image.Resampling.LANCZOS))
    file = io.BytesIO()
    plain.save(file, "WEBP", quality=QUALITY, method=4)
    return Rendition(width, height, file.getvalue())


def prepare(data: bytes) -> PreparedPhoto:
    """Write a photo again as WebP in up to three widths; a narrower photo is never enlarged.

    Parameters
    ----------
    data : a JPEG, PNG, WebP or AVIF file of at most 20 MB and 50 million pixels

    Raises
    ------
    DomainError
        Where the file is no photo, a drawing, animated, damaged, too large or too small; of the field `photo`.
        Size and frames are read from the header, before anything is decoded.
    """
    _check_bytes(data)
    image = _decoded(_opened(data))
    widths = sorted({min(width, image.width) for width in WIDTHS_PX})
    renditions = tuple(_rendition(image, width) for width in widths)
    digest = hashlib.sha256(b"".join(rendition.data for rendition in renditions)).hexdigest()[:32]
    return PreparedPhoto(digest, renditions)
