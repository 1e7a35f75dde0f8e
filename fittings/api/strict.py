"""Bodies whose unknown keys are refused: what the schema does not name is an error that names it."""

from __future__ import annotations

from core.web import strict

RENAMED = {"heel_deviation": "rearfoot_eversion", "heel_deviation_deg": "rearfoot_eversion"}
"""Keys of earlier versions, and what they are called now."""


class StrictSerializer(strict.StrictSerializer):
    """A body whose unknown keys are refused, each by its name."""

    renamed = RENAMED
