"""What a certificate's file may be: PDF, PNG or JPEG, by its content and not by its name."""

from __future__ import annotations

import io
import warnings
from dataclasses import dataclass

from PIL import Image, UnidentifiedImageError

MAX_BYTES = 10 * 2**20
MAX_PIXELS = 40_000_000
PDF_HEAD, PDF_END = b"%PDF-", b"%%EOF"
# A PDF may begin and end with a little that does not belong to it.
PDF_SLACK = 1024
ENDINGS = {"application/pdf": ".pdf", "image/png": ".png", "image/jpeg": ".jpg"}
ACCEPTED = "Use a PDF, PNG or JPEG file of up to 10 MB"


class CertificateRefused(ValueError):
    """A file that is no certificate; says what to use instead."""


@dataclass(frozen=True, slots=True)
class CertificateFile:
    """A checked file: its bytes, their type, and the ending that goes with it."""

    data: bytes
    type_: str

    @property
    def ending(self) -> str:
        return ENDINGS[self.type_]


def read_certificate(data: bytes) -> CertificateFile:
    """Check the file of a certificate.

    Raises
    ------
    CertificateRefused
        For a file that is empty, too large, of another kind, or broken.

    Examples
    --------
    >>> read_certificate(b"%PDF-1.7\\n...\\n%%EOF\\n").type_
    'application/pdf'
    """
    if not data:
        raise CertificateRefused(f"The file is empty. {ACCEPTED}.")
    if len(data) > MAX_BYTES:
        raise CertificateRefused(f"The file has {len(data) / 2**20:.1f} MB. {ACCEPTED}.")
    if PDF_HEAD in data[:PDF_SLACK]:
        if PDF_END not in data[-PDF_SLACK:]:
            raise CertificateRefused("The PDF is cut off: its end is missing. Save or scan it again.")
        return CertificateFile(data, "application/pdf")
    return CertificateFile(data, _image_type(data))


def _image_type(data: bytes) -> str:
    """Find the type of a picture, all of it read once so that a broken one is noticed."""
    try:
        with warnings.catch_warnings(), Image.open(io.BytesIO(data), formats=["PNG", "JPEG"]) as image:
            # The limit on pixels is our own and is checked before anything is decoded.
            warnings.simplefilter("ignore")
            if image.width * image.height > MAX_PIXELS:
                raise CertificateRefused(f"The picture has {image.width} × {image.height} pixels. Scan it smaller.")
            found = image.get_format_mimetype()
            image.load()
    except (UnidentifiedImageError, Image.DecompressionBombError):
        raise CertificateRefused(f"The file is not a PDF, PNG or JPEG, whatever its name. {ACCEPTED}.") from None
    except (OSError, SyntaxError, ValueError) as problem:
        if isinstance(problem, CertificateRefused):
            raise
        raise CertificateRefused("The picture is broken. Save or scan it again.") from None
    return "image/png" if found == "image/png" else "image/jpeg"
