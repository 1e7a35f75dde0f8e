"""What is made once for all workers of a run."""

from __future__ import annotations

import os
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import fasteners
import pytest


def folder_of_run(factory: pytest.TempPathFactory) -> Path:
    """Return the folder that the workers of a run share."""
    own = factory.getbasetemp()
    return own.parent if "PYTEST_XDIST_WORKER" in os.environ else own


@contextmanager
def first_of_run(factory: pytest.TempPathFactory, what: str) -> Iterator[bool]:
    """Wait while another worker makes something, and say whether it is still to be made, inside the block."""
    made = folder_of_run(factory) / f"{what}-made"
    with fasteners.InterProcessLock(made.with_suffix(".lock")):
        yield not made.exists()
        made.touch()
