"""Everything an upload refers to, looked up once: shoes, rigs, people, specimens, the methods in use."""

from __future__ import annotations

import datetime as dt
import math
from collections.abc import Iterable
from dataclasses import dataclass, field

from catalogue.models import Shoe
from catalogue.selectors.records.shoe_records import shoes_at
from core.gate.access import allowed
from core.models import User
from labtests.domain.conditions.calibration_fit import fit_points
from labtests.domain.conditions.climate import ClimateSeries
from labtests.domain.conditions.conditioning import Stay
from labtests.domain.curves.curves import Target
from labtests.domain.curves.work_shape import WorkShape
from labtests.domain.files.submission import SubmittedFile
from labtests.domain.scores import protocol as limits
from labtests.domain.scores.plausibility import LastResult
from labtests.domain.scores.protocol import CalibrationPeriod
from labtests.domain.scores.scoring import Model
from labtests.domain.uncertainty.scatter import Scatter
from labtests.domain.uncertainty.temperature import TemperatureBasis
from labtests.domain.uncertainty.uncertainty import Calibration
from labtests.models import BenchTest, ConditioningEntry, Protocol, Rig, ScoringModel, Specimen, SpecimenKind
from labtests.models.rigs import calibrations_on
from labtests.selectors.bench.climate import logs_of_chambers
from labtests.selectors.bench.earlier_tests import EarlierTest, earlier_tests
from labtests.selectors.scores import methods
from labtests.selectors.scores.setups import setups_of_rigs
from labtests.selectors.scores.work_shape import work_shape_current
from labtests.selectors.studies.temperature import temperature_basis, temperature_study_in_use


@dataclass(frozen=True, slots=True)
class RigOnDay:
    """A rig as it was on the day of a test; `ranges` by quantity, where the certificate states one."""

    rig: Rig
    periods: tuple[CalibrationPeriod, ...]
    calibrations: tuple[Calibration, ...]
    ranges: dict[str, tuple[float, float]]


@dataclass(slots=True)
class UploadLookups:
    """Lookups of one upload. Specimens that are new stand in it unsaved until they are stored."""

    at: dt.datetime
    protocol: Protocol = field(default_factory=methods.protocol_current)
    model: ScoringModel = field(default_factory=methods.scoring_model_current)
    temperature: TemperatureBasis = field(default_factory=lambda: temperature_basis(temperature_study_in_use()))
    limits: limits.Protocol = field(init=False)
    target: Target = field(init=False)
    anchors: Model = field(init=False)
    _shoes: dict[str, Shoe | None] = field(default_factory=dict)
    _rigs: dict[str, Rig | None] = field(default_factory=dict)
    _operators: dict[str, User | None] = field(default_factory=dict)
    _specimens: dict[str, Specimen | None] = field(default_factory=dict)
    _stays: dict[str, list[Stay]] = field(default_factory=dict)
    _results: dict[str, list[EarlierTest]] = field(default_factory=dict)
    _climate: list[ClimateSeries] = field(default_factory=list)
    _histories: dict[tuple[int, str], Scatter | None] = field(default_factory=dict)
    _shape: WorkShape | None = None
    _setups: dict[int, tuple[Scatter, ...]] = field(default_factory=dict)
    _days: dict[tuple[int, dt.date], RigOnDay] = field(default_factory=dict)

    def __post_init__(self) -> None:
        self.limits, self.anchors = self.protocol.to_domain(), self.model.to_domain()
        self.target = self.limits.target

    def shoe(self, slug: str) -> Shoe | None:
        if slug not in self._shoes:
            self._shoes[slug] = shoes_at([slug]).get(slug)
        return self._shoes[slug]

    def rig(self, code: str) -> Rig | None:
        if code not in self._rigs:
            self._expect_rigs({code})
        return self._rigs[code]

    def _expect_rigs(self, codes: set[str]) -> None:
        """Look up rigs and their calibrations in two queries."""
        missing = codes - self._rigs.keys()
        found = Rig.objects.prefetch_related("calibrations").filter(code__in=missing) if missing else ()
        self._rigs |= dict.fromkeys(missing) | {rig.code: rig for rig in found}

    def operator(self, username: str) -> User | None:
        """Find a person who may bring tests to the lab."""
        if username not in self._operators:
            user = User.objects.filter(username=username).first()
            self._operators[username] = user if user and allowed(user, "labtests.upload:create") else None
        return self._operators[username]

    def specimen(self, code: str) -> Specimen | None:
        if code not in self._specimens:
            self._specimens[code] = Specimen.objects.select_related("shoe").filter(code=code).first()
        return self._specimens[code]

    def expect(self, files: Iterable[SubmittedFile]) -> None:
        """Look up in one query each the shoes, rigs and specimens that some files speak of.

        Specimens of earlier files are forgotten, for an upload may speak of very many; but for those that are new and
        not stored, which no query would find.
        """
        headers = [test.header for file in files for test in file.tests]
        slugs = {header.shoe for header in headers} - self._shoes.keys()
        shoes = shoes_at(slugs)
        self._shoes |= {slug: shoes.get(slug) for slug in slugs}
        self._expect_rigs({header.rig for header in headers})
        new: dict[str, Specimen | None] = {}
        new |= {code: found for code, found in self._specimens.items() if found is not None and found._state.adding}
        codes = {header.specimen for header in headers} - new.keys()
        known = {found.code: found for found in Specimen.objects.select_related("shoe").filter(code__in=codes)}
        self._specimens = new | {code: known.get(code) for code in codes}
        self._stays, self._results, self._climate = {}, {}, []
        self._expect_stays(known)
        self._expect_results(known)
        self._expect_climate(max((header.performed for header in headers), default=self.at))

    def _expect_stays(self, known: dict[str, Specimen]) -> None:
        """Look up in one query what the conditioning log says of specimens on record."""
        if not known:
            return
        stays: dict[str, list[Stay]] = {code: [] for code in known}
        entries = ConditioningEntry.objects.valid().filter(specimen__in=known.values())
        for entry in entries.select_related("specimen", "chamber"):
            stays[entry.specimen.code].append(entry.to_domain())
        self._stays |= stays

    def _expect_climate(self, until: dt.datetime) -> None:
        """Look up in one query what the loggers say of the chambers that these specimens were in."""
        stays = [stay for found in self._stays.values() for stay in found]
        if stays:
            since = min(stay.in_at for stay in stays)
            logs = logs_of_chambers({stay.chamber for stay in stays}, since, until)
            self._climate = [log.to_domain() for log in logs]

    def climate(self) -> list[ClimateSeries]:
        """What the loggers say of the chambers that expected specimens were in."""
        return self._climate

    def stays(self, code: str) -> list[Stay]:
        """What the conditioning log says of a specimen that was expected."""
        return self._stays.get(code, [])

    def _expect_results(self, known: dict[str, Specimen]) -> None:
        """Look up in one query what samples on record gave before; check shoes have charts of their own."""
        samples = [specimen for specimen in known.values() if specimen.kind == SpecimenKind.SAMPLE]
        if samples:
            self._results = earlier_tests(samples)

    def last_result(self, code: str, before: dt.datetime, worn_km: float | None) -> LastResult | None:
        """The last result of a sample before a time at the same distance worn; None where there is none."""
        found = (test for test in self._results.get(code, ()) if test.performed_at < before)
        alike = [test for test in found if test.worn_km == (worn_km or 0.0)]
        return alike[-1].result if alike else None

    def take_in(self, specimen: Specimen) -> None:
        """Remember a specimen that an upload brings for the first time."""
        self._specimens[specimen.code] = specimen

    def forget(self, codes: set[str]) -> None:
        """Look specimens up again: their file was refused, so they were not taken in after all."""
        for code in codes:
            self._specimens.pop(code, None)

    def rig_on(self, rig: Rig, day: dt.date) -> RigOnDay:
        if (rig.pk, day) not in self._days:
            self._days[rig.pk, day] = self._look_at(rig, day)
        return self._days[rig.pk, day]

    def _look_at(self, rig: Rig, day: dt.date) -> RigOnDay:
        known = [item for item in rig.calibrations.all() if not item.is_struck]
        covering = calibrations_on(known, day)
        return RigOnDay(
            rig=rig,
            periods=tuple(
                CalibrationPeriod(item.quantity, item.calibrated_on, item.due_on, item.is_signed) for item in known
            ),
            calibrations=tuple(
                Calibration(
                    item.quantity,
                    item.standard_uncertainty,
                    item.resolution,
                    df=item.degrees_of_freedom or math.inf,
                    number=item.pk,
                    fit=fit_points(item.to_domain().points),
                )
                for item in covering.values()
            ),
            ranges={
                quantity: (item.range_low, item.range_high)
                for quantity, item in covering.items()
                if item.range_low is not None and item.range_high is not None
            },
        )

    def history(self, rig: Rig, source: str) -> Scatter | None:
        key = (rig.pk, source)
        if key not in self._histories:
            self._histories[key] = methods.scatter_of_rig(rig, source)
        return self._histories[key]

    def shape(self) -> WorkShape:
        """How work follows from the deflection where only readings are submitted."""
        if self._shape is None:
            self._shape = work_shape_current()
        return self._shape

    def setups(self, rig: Rig) -> tuple[Scatter, ...]:
        """What a day and a set-up add to a test on a rig; empty where it is not known yet."""
        if rig.pk not in self._setups:
            # The other rigs of the upload come next, most likely: all take the queries of one.
            rigs = {found.pk for found in self._rigs.values() if found is not None} - self._setups.keys()
            self._setups |= setups_of_rigs(rigs | {rig.pk}, self.anchors)
        return self._setups[rig.pk]

    def stored(self, sha256s: list[str]) -> dict[tuple[str, str], BenchTest]:
        """Tests that came from the very same files before, by file and specimen."""
        tests = BenchTest.objects.filter(file_sha256__in=sha256s).select_related("specimen")
        return {(test.file_sha256, test.specimen.code): test for test in tests}
