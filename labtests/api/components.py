"""The API of the variance components and of the planner."""

from __future__ import annotations

from typing import Any

from drf_spectacular.utils import extend_schema
from rest_framework import serializers as fields
from rest_framework.request import Request
from rest_framework.response import Response

from core.domain.coverage import limited, whole_df
from core.domain.errors import DomainError
from core.web.api import QueryView
from labtests.api.bench_tests import PROBLEM, PROBLEMS
from labtests.api.queries import PlannerQuery
from labtests.domain.uncertainty.planner import PlannedU, plan
from labtests.domain.uncertainty.reading_squares import by_model, squares_of_scatter
from labtests.domain.uncertainty.scatter import Scatter
from labtests.selectors.bench.rigs import rig_get
from labtests.selectors.scores import components
from labtests.selectors.scores.components import Components, PooledComponent


class LabComponent(fields.Serializer[Any]):
    """A variance component in points²; `raw` may be below 0, `variance` is not."""

    level = fields.CharField()
    score = fields.CharField()
    variance = fields.FloatField(allow_null=True)
    raw = fields.FloatField(allow_null=True)
    shoes = fields.IntegerField()
    degrees_of_freedom = fields.IntegerField()
    homogeneity_p = fields.FloatField(allow_null=True, help_text="Bartlett’s test of equal variances.")


class LabRigPart(fields.Serializer[Any]):
    """A part of a rig's scatter, in points² of stability."""

    part = fields.CharField()
    variance = fields.FloatField()
    degrees_of_freedom = fields.IntegerField(allow_null=True)
    record = fields.CharField(allow_blank=True, help_text="What it comes from.")


class LabRigScatter(fields.Serializer[Any]):
    """A rig's repeats, days and set-ups; empty where nothing is known yet."""

    rig = fields.CharField()
    repeats = LabRigPart(allow_null=True)
    setups = LabRigPart(many=True)


class LabComponents(fields.Serializer[Any]):
    """Everything that publications take of scatter beyond a shoe's own tests."""

    scoring_model = fields.CharField()
    at = fields.DateTimeField(allow_null=True)
    components = LabComponent(many=True)
    rigs = LabRigScatter(many=True)


class LabPlanned(fields.Serializer[Any]):
    """What so many specimens of so many repeats can be expected to give."""

    specimens = fields.IntegerField()
    repeats = fields.IntegerField()
    expanded_uncertainty = fields.FloatField()
    coverage_factor = fields.FloatField()
    degrees_of_freedom = fields.IntegerField(allow_null=True)


class LabPlan(fields.Serializer[Any]):
    """A plan; `least` is null where no choice reaches what is wanted."""

    least = LabPlanned(allow_null=True)
    floor = fields.FloatField(help_text="U that calibrations and the day leave, however much is tested.")
    choices = LabPlanned(many=True)


class ComponentList(QueryView):
    """The variance components."""

    permission = {"GET": "labtests.study:view"}

    @extend_schema(operation_id="lab_components", responses={200: LabComponents, **PROBLEMS})
    def get(self, request: Request) -> Response:
        """Components by level and score, and the scatter of every rig."""
        return Response(_body(components.component_list()))


class Planner(QueryView):
    """How much to test."""

    permission = {"GET": "labtests.study:view"}
    query = PlannerQuery

    @extend_schema(operation_id="lab_planner", responses={200: LabPlan, 409: PROBLEM, **PROBLEMS})
    def get(self, request: Request) -> Response:
        """How many specimens and repeats a wanted U takes; 409 where too little is known."""
        known = components.scatter_for_plan(rig_get(self.asked["rig"]), self.asked.get("score", "stability"))
        if known is None:
            message = (
                "Too little is known: it takes tests with repeats on this rig and a published shoe of two specimens."
            )
            raise DomainError(message, code="too_little_known", status=409)
        found = plan(known, self.asked["wanted"], days=self.asked.get("days", 1))
        return Response(
            {
                "least": None if found.least is None else _planned(found.least),
                "floor": found.floor,
                "choices": [_planned(choice) for choice in found.choices],
            }
        )


def _planned(choice: PlannedU) -> dict[str, Any]:
    return {
        "specimens": choice.specimens,
        "repeats": choice.repeats,
        "expanded_uncertainty": choice.expanded,
        "coverage_factor": choice.k,
        "degrees_of_freedom": whole_df(choice.df),
    }


def _body(found: Components) -> dict[str, Any]:
    weights = by_model(found.model.to_domain())["stability"]

    def part(scatter: Scatter) -> dict[str, Any]:
        return {
            "part": scatter.origin,
            "variance": max(0.0, float(weights @ squares_of_scatter(scatter))),
            "degrees_of_freedom": whole_df(limited(scatter.df)),
            "record": scatter.link,
        }

    return {
        "scoring_model": found.model.version,
        "at": found.at,
        "components": [_component(one) for one in found.pooled],
        "rigs": [
            {
                "rig": rig.rig.code,
                "repeats": None if rig.repeats is None else part(rig.repeats),
                "setups": [part(scatter) for scatter in rig.setups],
            }
            for rig in found.rigs
        ],
    }


def _component(one: PooledComponent) -> dict[str, Any]:
    known = one.found
    return {
        "level": str(one.level),
        "score": one.score,
        "variance": known.variance if known else None,
        "raw": known.raw if known else None,
        "shoes": known.shoes if known else 0,
        "degrees_of_freedom": int(known.df) if known else 0,
        "homogeneity_p": one.alike.p,
    }
