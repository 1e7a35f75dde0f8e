"""What the public page on the method shows of the lab: the accepted conditions, and the anchors and weights in use."""

from __future__ import annotations

from catalogue.presentation.words import version_text
from catalogue.selectors.public.method import MethodTable
from core.web import display
from labtests.domain.scores.protocol import WORDS, Limit
from labtests.models import Protocol, ScoringModel
from labtests.presentation.studies.temperature import basis_words
from labtests.selectors.studies.temperature import temperature_study_in_use

KINDS = {"temperature_c": "temperature", "heel_clamp_n": "force", "forefoot_clamp_n": "force"}


def _value(name: str, value: float, units: str) -> str:
    kind = KINDS.get(name)
    return (
        display.measure(value, kind, units) if kind else f"{display.number(value, 0)}{display.NO_BREAK}{WORDS[name][1]}"
    )


def _accepted(name: str, limit: Limit, units: str) -> str:
    if limit.low is not None and limit.high is not None:
        return f"{_value(name, limit.low, units)} to {_value(name, limit.high, units)}"
    if limit.low is not None:
        return f"{_value(name, limit.low, units)} or more"
    return f"up to {_value(name, limit.high, units)}" if limit.high is not None else "any"


def protocol_table(protocol: Protocol, units: str) -> MethodTable:
    limits = protocol.to_domain()
    return MethodTable(
        title=f"Test protocol, {version_text(protocol.version)}",
        note=(
            "The limits are our own, after common practice; none is taken from a published standard. "
            "Every sensor of the rig must be in calibration on the day. "
            f"Temperature: {basis_words(temperature_study_in_use())}"
        ),
        columns=("Condition", "Nominal", "Accepted"),
        rows=tuple(
            (
                words.capitalize(),
                _value(name, getattr(limits, name).nominal, units),
                _accepted(name, getattr(limits, name), units),
            )
            for name, (words, _) in WORDS.items()
        ),
    )


def scoring_table(model: ScoringModel, units: str, *, torque: str) -> MethodTable:
    def row(words: str, kind: str, at_0: float, at_100: float) -> tuple[str, ...]:
        return words, display.measure(at_0, kind, units), display.measure(at_100, kind, units)

    weights = f"{display.number(model.weight_midfoot, 2)} and {display.number(model.weight_rearfoot, 2)}"
    return MethodTable(
        title=f"Anchors of the scoring model, {version_text(model.version)}",
        note=f"Weights of midfoot and rearfoot in the stability score: {weights}. Anchors and weights are our own.",
        columns=("Reading", "Score 0", "Score 100"),
        rows=(
            row(f"Midfoot: {torque}", "torque", model.torque_0_nm, model.torque_100_nm),
            row("Rearfoot: deflection", "length", model.deflection_0_mm, model.deflection_100_mm),
            row("Cushioning: work", "energy", model.work_0_j, model.work_100_j),
        ),
    )


def current_tables(units: str) -> list[MethodTable]:
    """Return the tables of the protocol and the scoring model in use."""
    protocols = list(Protocol.objects.filter(is_current=True))
    torque = protocols[0].to_domain().target.torque_name if protocols else "torque"
    models = ScoringModel.objects.filter(is_current=True)
    return [
        *(protocol_table(protocol, units) for protocol in protocols),
        *(scoring_table(model, units, torque=torque) for model in models),
    ]
