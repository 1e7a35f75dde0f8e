"""What the public pages say about the lab's method, from the protocol and the scoring models on record."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from django.db.models import Q

from catalogue.selectors.public.method import FormulaSet, MethodTable, Procedure, Reading, WearSeries, register_lab
from core.domain.figures import figure
from core.web import display
from labtests.domain.curves.curves import CONTACT_FORCE_N
from labtests.domain.scores.bands import BORDERLINE_BELOW, PROVISIONAL_BELOW_SPECIMENS
from labtests.models import Protocol, ScoringModel, TemperatureState, TemperatureStudy
from labtests.presentation.scores.method_tables import current_tables
from labtests.presentation.studies.public_wear import public_wear, wear_mark

STANDARD_GRAVITY_M_S2 = 9.80665
# Score, what is read for it, kind of measure, and the columns of its anchors.
READINGS = (
    ("midfoot", "torque", "torque", "torque_0_nm", "torque_100_nm"),
    ("rearfoot", "deflection", "length", "deflection_0_mm", "deflection_100_mm"),
    ("cushioning", "work", "energy", "work_0_j", "work_100_j"),
)


def _formula(model: ScoringModel, reading: tuple[str, str, str, str, str], units: str) -> tuple[str, str]:
    """Write one score as a formula with its anchors; a falling one turned round, so that nothing is divided by −7."""
    score, words, kind, column_0, column_100 = reading
    at_0, at_100 = getattr(model, column_0), getattr(model, column_100)
    first, last = (display.measure(value, kind, units) for value in (at_0, at_100))
    if at_0 <= at_100:
        return score.capitalize(), f"100 · ({words} − {first}) / ({last} − {first})"
    return score.capitalize(), f"100 · ({first} − {words}) / ({first} − {last})"


def _formulas(model: ScoringModel, units: str) -> FormulaSet:
    weights = [f"{display.number(weight, 2)}" for weight in (model.weight_midfoot, model.weight_rearfoot)]
    stability = ("Stability", f"{weights[0]} · midfoot + {weights[1]} · rearfoot")
    return FormulaSet(model.version, (*(_formula(model, reading, units) for reading in READINGS), stability))


def _reading(score: Reading, anchors: tuple[float, float], kind: str, units: str) -> str:
    """Turn a score back into what was read: the scale is a straight line between its anchors."""
    at_0, at_100 = anchors
    text = display.measure(at_0 + score.value / 100.0 * (at_100 - at_0), kind, units)
    if score.expanded_u is None:
        return text
    return f"{text} ± {display.measure(score.expanded_u / 100.0 * abs(at_100 - at_0), kind, units)}"


class Laboratory:
    """This lab, as `catalogue.method.Lab` asks."""

    def mark(self) -> str:
        """Return the versions that there are, with which of them is current, and what was approved of worn specimens.

        No version is ever edited.
        """
        rows = [
            *Protocol.objects.order_by("pk").values_list("version", "is_current"),
            *ScoringModel.objects.order_by("pk").values_list("version", "is_current"),
            *TemperatureStudy.objects.filter(state=TemperatureState.ADOPTED).values_list("pk", "state"),
        ]
        return ";".join([*(f"{version}{'*' if is_current else ''}" for version, is_current in rows), wear_mark()])

    def wear(self, units: str) -> Sequence[WearSeries]:
        return public_wear(units)

    def tables(self, units: str) -> Sequence[MethodTable]:
        return current_tables(units)

    def procedure(self, units: str) -> Procedure:
        protocol = Protocol.objects.get(is_current=True)
        guard = ScoringModel.objects.values_list("guard_band", flat=True).get(is_current=True)
        return Procedure(
            angle=f"{figure(protocol.torsion_deg)}°",
            load=display.measure(protocol.compression_n, "force", units),
            load_as_mass=display.measure(protocol.compression_n / STANDARD_GRAVITY_M_S2, "body_mass", units),
            contact=display.measure(CONTACT_FORCE_N, "force", units),
            probability_least=display.percent(BORDERLINE_BELOW),
            specimens_least=PROVISIONAL_BELOW_SPECIMENS,
            guard=f"{figure(guard)} points" if guard else "",
        )

    def formulas(self, units: str, models: Sequence[str]) -> Sequence[FormulaSet]:
        shown = ScoringModel.objects.filter(Q(is_current=True) | Q(version__in=models)).order_by("-is_current", "pk")
        return [_formulas(model, units) for model in shown]

    def readings(
        self, units: str, procedure: Procedure, model: str, scores: Mapping[str, Reading]
    ) -> Sequence[tuple[str, str]]:
        used = ScoringModel.objects.filter(version=model).first()
        if used is None:
            return []
        names = {
            "midfoot": f"Torque at {procedure.angle}",
            "rearfoot": f"Heel deflection at {procedure.load}",
            "cushioning": f"Loading work to {procedure.load}",
        }
        return [
            (names[score], _reading(scores[score], (getattr(used, at_0), getattr(used, at_100)), kind, units))
            for score, _, kind, at_0, at_100 in READINGS
        ]


register_lab(Laboratory())
