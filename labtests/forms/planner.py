"""The form of the planner: which uncertainty is wanted, of which score, on which rig."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from django import forms

from labtests.domain.scores.scoring import SCORES

WANTED_LEAST, WANTED_MOST, DAYS_MOST = 0.05, 50.0, 60


class PlannerForm(forms.Form):
    """What a plan is asked for."""

    wanted = forms.FloatField(label="Wanted ±, points", min_value=WANTED_LEAST, max_value=WANTED_MOST, initial=1.5)
    score = forms.ChoiceField(label="Score", choices=[(name, name.capitalize()) for name in SCORES])
    rig = forms.ChoiceField(label="Rig")
    days = forms.IntegerField(
        label="Days", min_value=1, max_value=DAYS_MOST, initial=1, help_text="Over how many days the tests are spread."
    )

    def __init__(self, *args: Any, rigs: Sequence[str], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        rig = self.fields["rig"]
        if isinstance(rig, forms.ChoiceField):
            rig.choices = [(code, code) for code in rigs]
