"""A test typed in by hand, written as the readings file that a computer on the rig would have made."""

from __future__ import annotations

import csv
import io
from dataclasses import dataclass

FIRST_LINE = "# typed in by hand"
# The comment and the names of the columns stand above the first repeat.
LINES_ABOVE = 2


@dataclass(frozen=True, slots=True)
class RepeatTyped:
    """The readings of one repeat, as typed."""

    torque_15: str
    deflection: str


@dataclass(frozen=True, slots=True)
class TestTyped:
    """A test as typed: each value the text that was written, each unit as a readings file names it."""

    __test__ = False

    shoe: str
    specimen: str
    size: str
    side: str
    rig: str
    operator: str
    performed: str
    conditioned_h: str
    temperature: str
    temperature_unit: str
    heel_clamp: str
    forefoot_clamp: str
    clamp_unit: str
    torque_unit: str
    deflection_unit: str
    repeats: tuple[RepeatTyped, ...]
    worn_km: str = ""
    mass_g: str = ""

    def repeat_on(self, line: int) -> int | None:
        """Which repeat, from 0, is on a line of the file, counted from 1; None where none is."""
        number = line - LINES_ABOVE - 1
        return number if 0 <= number < len(self.repeats) else None


def readings_file_of(typed: TestTyped) -> str:
    """Write a readings file.

    Parameters
    ----------
    typed : TestTyped
        Texts without line breaks; they are written as they are and judged by the reader of readings files.

    Returns
    -------
    str
        One row a repeat, in the order typed, numbered from 1.

    Examples
    --------
    >>> repeats = (RepeatTyped("5.1", "5.9"),)
    >>> units = {"temperature_unit": "degC", "clamp_unit": "N", "torque_unit": "N*m", "deflection_unit": "mm"}
    >>> who = {"shoe": "s", "specimen": "S-1", "size": "EU 42", "side": "left", "rig": "r", "operator": "o"}
    >>> how = {"performed": "p", "conditioned_h": "50", "temperature": "23", "heel_clamp": "445"}
    >>> typed = TestTyped(**who, **how, forefoot_clamp="178", **units, repeats=repeats)
    >>> readings_file_of(typed).splitlines()[-1]
    '1,s,S-1,EU 42,left,r,o,p,50,23,445,178,5.1,5.9'
    """
    shared = {
        "shoe": typed.shoe,
        "specimen": typed.specimen,
        "size": typed.size,
        "side": typed.side,
        "rig": typed.rig,
        "operator": typed.operator,
        "performed": typed.performed,
        "conditioned [h]": typed.conditioned_h,
        f"temperature [{typed.temperature_unit}]": typed.temperature,
        f"heel_clamp [{typed.clamp_unit}]": typed.heel_clamp,
        f"forefoot_clamp [{typed.clamp_unit}]": typed.forefoot_clamp,
    }
    optional = {"worn [km]": typed.worn_km, "mass [g]": typed.mass_g}
    shared |= {name: value for name, value in optional.items() if value}
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\n")
    # The number comes first: no line of the table can be taken for a comment then.
    writer.writerow(["repeat", *shared, f"torque_15 [{typed.torque_unit}]", f"deflection [{typed.deflection_unit}]"])
    for number, repeat in enumerate(typed.repeats, start=1):
        writer.writerow([number, *shared.values(), repeat.torque_15, repeat.deflection])
    return f"{FIRST_LINE}\n{out.getvalue()}"
