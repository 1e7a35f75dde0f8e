"""What is said about a test besides its curves: shoe, specimen, rig, who, when and under which conditions."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from datetime import datetime
from decimal import Decimal
from functools import partial
from types import MappingProxyType
from typing import Any

from labtests.domain.files import fields

Reader = Callable[[str], Any]

MAX_EXTRA = 100
MAX_EXTRA_KEY = 64
MAX_EXTRA_VALUE = 500


@dataclass(frozen=True, slots=True)
class Conditions:
    """How the specimen lay and was clamped; what the protocol looks at."""

    conditioned_h: float
    temperature_c: float
    heel_clamp_n: float
    forefoot_clamp_n: float


@dataclass(frozen=True, slots=True)
class Header:
    """Identity and conditions of one test. Optional values are None when the file does not say them."""

    shoe: str
    specimen: str
    size_eu: Decimal
    side: str
    rig: str
    operator: str
    performed: datetime
    conditions: Conditions
    worn_km: float | None = None
    mass_g: float | None = None
    stack_heel_mm: float | None = None
    stack_forefoot_mm: float | None = None


IDENTITY: Mapping[str, Reader] = MappingProxyType(
    {
        "shoe": fields.read_slug,
        "specimen": fields.read_code,
        # Read together with its system, once all of the header is known: see `size_in_system`.
        "size": str,
        "side": fields.read_side,
        "rig": fields.read_code,
        "operator": fields.read_user_name,
        "performed": fields.read_performed,
    }
)
CONDITIONS = ("conditioned", "temperature", "heel_clamp", "forefoot_clamp")
SIZE_SYSTEM = "size_system"
OPTIONAL = ("worn", "mass", "stack_heel", "stack_forefoot")
REQUIRED_KEYS = (*IDENTITY, *CONDITIONS)


def header_readers() -> dict[str, Reader]:
    """One reader for each key of a bench file that says something about the test."""
    measures = {name: partial(fields.read_measure, name=name) for name in (*CONDITIONS, *OPTIONAL)}
    return {**IDENTITY, **measures, SIZE_SYSTEM: fields.read_size_system}


def size_in_system(values: dict[str, Any], *, stated: bool) -> None:
    """Replace the written size by the EU size that it is in the stated system; EU where none is stated.

    Parameters
    ----------
    values : dict
        What was read of a header or a row, by key.
    stated : bool
        Whether the file states a system; where it could not be read, the size is left out.

    Raises
    ------
    FieldError
        Where the size can't be read in its system.
    """
    system, written = values.pop(SIZE_SYSTEM, ""), values.pop("size", None)
    if written is not None and (system or not stated):
        values["size"] = fields.read_size(written, system)


def conditions_from(values: Mapping[str, Any]) -> Conditions:
    """Build the conditions from read values in their stored units (time in s)."""
    return Conditions(
        conditioned_h=values["conditioned"] / 3600.0,
        temperature_c=values["temperature"],
        heel_clamp_n=values["heel_clamp"],
        forefoot_clamp_n=values["forefoot_clamp"],
    )


def header_from(values: Mapping[str, Any]) -> Header:
    """Build a header from read values, keyed as in the file, all required keys present."""
    return Header(
        shoe=values["shoe"],
        specimen=values["specimen"],
        size_eu=values["size"],
        side=values["side"],
        rig=values["rig"],
        operator=values["operator"],
        performed=values["performed"],
        conditions=conditions_from(values),
        worn_km=values.get("worn"),
        mass_g=values.get("mass"),
        stack_heel_mm=values.get("stack_heel"),
        stack_forefoot_mm=values.get("stack_forefoot"),
    )
