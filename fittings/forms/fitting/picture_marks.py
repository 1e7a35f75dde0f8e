"""What the marks on a picture of one foot give, for the forms that have a field for them."""

from __future__ import annotations

import json
from collections.abc import Mapping
from dataclasses import asdict, dataclass
from typing import Any

from core.domain.figures import figure
from fittings.domain.fitting.angles import KINDS, PLACES, MeasuredTwice, measured_twice
from fittings.domain.fitting.grading import MEASURED, grade_of
from fittings.domain.fitting.intake import FootMarks
from fittings.domain.fitting.marks import marks_from_data
from fittings.selectors.fitting.cutoffs import current_cutoffs

MARKS_MAX = 4000
"""Characters of the marks of one foot: three measures with two readings have fewer than half of it."""
UNREADABLE = "The marks on the picture can’t be read. Measure again."
MARK_ERRORS = (TypeError, ValueError, OverflowError, RecursionError)
"""What text that holds no marks can raise."""


def kinds_text(*names: str) -> str:
    """The measures of these names, all where none is named, for the script of the page."""
    return json.dumps({name: asdict(kind) for name, kind in KINDS.items() if not names or name in names})


@dataclass(frozen=True, slots=True)
class PictureMeasures:
    """The measures that somebody took on pictures of one foot."""

    taken: tuple[FootMarks, ...]
    measured: tuple[MeasuredTwice, ...]

    @classmethod
    def read(cls, text: str, foot: str) -> PictureMeasures:
        """Read marks as JSON; raises one of `MARK_ERRORS`."""
        given = marks_from_data(json.loads(text)) if text else ()
        return cls(tuple(FootMarks(foot, marks) for marks in given), tuple(measured_twice(m, foot) for m in given))

    def means(self) -> dict[str, float]:
        """What the marks give for the fields that they fill in."""
        return {KINDS[item.kind].field: round(item.mean, PLACES) for item in self.measured if KINDS[item.kind].field}

    def problems(self, said: Mapping[str, Any]) -> dict[str, str]:
        """Refuse values, by field, that are not those of their marks."""
        return {
            name: (
                f"The marks on the picture give {figure(mean)}, not {figure(said[name])}. "
                "Measure again, or clear the field first."
            )
            for name, mean in self.means().items()
            if said.get(name) is not None and round(said[name], PLACES) != mean
        }

    def overriding(self, said: Mapping[str, Any]) -> dict[str, Any]:
        """What was said, without the degrees where another grade was picked beside the marks that propose one."""
        kept = dict(said)
        for name in self.means():
            sign = name.removesuffix("_deg")
            if sign in MEASURED and _overrides(sign, said.get(sign), said.get(name)):
                kept[name] = None
        return kept

    def apart(self, kind: str) -> float | None:
        return next((item.apart for item in self.measured if item.kind == kind), None)


def _overrides(sign: str, grade: int | None, degrees: float | None) -> bool:
    if grade is None or degrees is None:
        return False
    return grade_of(sign, degrees, current_cutoffs().cutoffs) != grade
