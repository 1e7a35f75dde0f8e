"""What the pages of uploads show: verdicts in parts, and the first tests of a file with their curves."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import asdict, dataclass, replace
from typing import Any

from core.domain.coverage import limited
from core.domain.units import from_si
from core.web import display
from labtests.domain.scores.bands import Band, Placement, place
from labtests.domain.scores.evaluation import Summary
from labtests.models import Curve, StagedUpload, Upload
from labtests.models.benchtests import POINTS
from labtests.presentation import drawings
from labtests.presentation.bench_tests import covered
from labtests.services import FilePreview
from labtests.services.judging import JudgedTest

# Entries of each list on the page of a preview; the upload's own page has them all once it is stored.
LISTED = 50
READ = {
    "metric": (("torque", "N*m", "N·m"), ("length", "mm", "mm")),
    "imperial": (("torque", "in*lbf", "in·lbf"), ("length", "in", "in")),
}


@dataclass(frozen=True, slots=True)
class VerdictLines:
    """A verdict, or a part of it: the entries shown of each list, and how many there are in all."""

    accepted: list[dict[str, Any]]
    held: list[dict[str, Any]]
    rejected: list[dict[str, Any]]
    warnings: list[dict[str, str]]
    n_accepted: int
    n_held: int
    n_rejected: int
    n_warnings: int

    @property
    def longest(self) -> int:
        return max(self.n_accepted, self.n_held, self.n_rejected, self.n_warnings)

    @property
    def is_part(self) -> bool:
        shown = (self.accepted, self.held, self.rejected, self.warnings)
        return sum(map(len, shown)) < self.n_accepted + self.n_held + self.n_rejected + self.n_warnings

    @property
    def longest_shown(self) -> int:
        return max(len(shown) for shown in (self.accepted, self.held, self.rejected, self.warnings))

    def part(self, start: int, stop: int) -> VerdictLines:
        """The entries of each list from `start`, from 0, up to but without `stop`."""
        return replace(
            self,
            accepted=self.accepted[start:stop],
            held=self.held[start:stop],
            rejected=self.rejected[start:stop],
            warnings=self.warnings[start:stop],
        )


@dataclass(frozen=True, slots=True)
class PreviewedTest:
    """A test that is not stored yet, in words and drawings."""

    specimen: str
    file: str
    shoe: str
    facts: tuple[tuple[str, str], ...]
    reasons: tuple[str, ...]
    stability: dict[str, Any] | None
    placement: Placement | None
    drawings: tuple[drawings.Drawing, ...]
    readings: tuple[tuple[str, str, str], ...]


@dataclass(frozen=True, slots=True)
class LookedAtFile:
    """A file that is not stored yet."""

    staged: StagedUpload
    verdict: VerdictLines
    tests: tuple[PreviewedTest, ...]
    not_drawn: int


def verdict_of(verdict: Mapping[str, Any]) -> VerdictLines:
    accepted, held, rejected, warnings = (verdict[name] for name in ("accepted", "held", "rejected", "warnings"))
    return VerdictLines(
        accepted, held, rejected, warnings, len(accepted), len(held), len(rejected), n_warnings=len(warnings)
    )


def names_of(staged: Sequence[StagedUpload]) -> str:
    return f"{staged[0].name} was" if len(staged) == 1 else f"{display.count(len(staged), 'file')} were"


def stored_words(uploads: Sequence[Upload]) -> str:
    """What became of files stored together, in one sentence."""
    if not uploads:
        return "No file was chosen; nothing was stored."
    accepted, held, problems = (
        sum(getattr(upload, name) for upload in uploads) for name in ("n_accepted", "n_held", "n_problems")
    )
    return (
        f"{display.count(len(uploads), 'file')} stored: {display.count(accepted, 'test')} accepted, {held} held, "
        f"{display.count(problems, 'problem')}."
    )


def previewed(file: FilePreview, bands: tuple[Band, ...], system: str, *, guard: float) -> LookedAtFile:
    return LookedAtFile(
        file.staged,
        verdict_of(asdict(file.verdict)).part(0, LISTED),
        tuple(_test(name, judged, system, _score(judged, bands, guard)) for name, judged in file.drawn),
        file.not_drawn,
    )


def _test(
    file: str, judged: JudgedTest, system: str, scored: tuple[dict[str, Any] | None, Placement | None]
) -> PreviewedTest:
    score, placement = scored
    return PreviewedTest(
        specimen=judged.specimen.code,
        file=file,
        shoe=judged.specimen.shoe.title,
        facts=_facts(judged, system),
        reasons=tuple(reason.message for reason in judged.reasons),
        stability=score,
        placement=placement,
        drawings=tuple(drawings.drawings_of(_curves(judged), system, judged.target)),
        readings=tuple(
            (str(reading.repeat), *_read((reading.torque_15_nm, reading.deflection_mm), system))
            for reading in judged.submitted.readings
        ),
    )


def _score(judged: JudgedTest, bands: tuple[Band, ...], guard: float) -> tuple[dict[str, Any] | None, Placement | None]:
    if judged.scores is None:
        return None, None
    value = float(judged.scores.stability)
    known = judged.uncertainties.scores["stability"] if judged.uncertainties else None
    u, df = (known.u, limited(known.df)) if known else (None, None)
    return {"value": value, **covered(u, df), "estimated": False}, place(value, u, bands, df=df, guard=guard)


def _facts(judged: JudgedTest, system: str) -> tuple[tuple[str, str], ...]:
    conditions, evaluation = judged.conditions, judged.evaluation
    whose = "computed from the conditioning log" if judged.logged else "as claimed by the file"
    claim = f"; the file claims {display.number(judged.claimed_h)}{display.NO_BREAK}h" if judged.logged else ""
    torque, deflection = _read((_mean(evaluation.torque_15_nm), _mean(evaluation.deflection_mm)), system)
    return (
        ("Performed", f"{display.moment(judged.submitted.header.performed)}, rig {judged.rig.code}"),
        ("Conditioned", f"{display.number(conditions.conditioned_h)}{display.NO_BREAK}h, {whose}{claim}"),
        ("Midsole temperature", display.measure(conditions.temperature_c, "temperature", system)),
        ("Repeats", str(len(evaluation.repeats))),
        ("Torque, mean", torque),
        ("Deflection, mean", deflection),
    )


def _mean(summary: Summary | None) -> float | None:
    return summary.mean if summary else None


def _read(values: tuple[float | None, float | None], system: str) -> tuple[str, str]:
    """Torque and deflection with three decimals, in the units of the reader."""
    torque, deflection = (
        display.MISSING
        if value is None
        else f"{display.number(from_si(value, unit, quantity=quantity), 3)}{display.NO_BREAK}{sign}"
        for value, (quantity, unit, sign) in zip(values, READ[system], strict=True)
    )
    return torque, deflection


def _curves(judged: JudgedTest) -> list[Curve]:
    return [
        Curve(
            kind=series.test,
            repeat=series.repeat,
            branch=series.branch,
            position=series.position.astype(POINTS).tobytes(),
            load=series.load.astype(POINTS).tobytes(),
        )
        for series in judged.submitted.curves
    ]
