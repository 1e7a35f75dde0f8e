"""Picture files for tests, made here: no photo of anybody's."""

from __future__ import annotations

import io

import numpy as np
from PIL import Image


def picture(width=900, height=600, seed=1):
    """Return a picture with a gradient and some noise, so that it is not compressed to nothing."""
    rng = np.random.default_rng(seed)
    across = np.linspace(0, 200, width)[None, :, None] + np.linspace(0, 50, height)[:, None, None]
    noise = rng.integers(0, 6, (height, width, 3))
    return Image.fromarray(np.clip(across + noise, 0, 255).astype(np.uint8))


def encoded(image, kind="JPEG", **options):
    file = io.BytesIO()
    image.save(file, kind, **options)
    return file.getvalue()


def decoded(data):
    image = Image.open(io.BytesIO(data))
    image.load()
    return image
