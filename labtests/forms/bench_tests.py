"""Forms of the lab's pages: shape and choices only; the rules are in the services."""

from __future__ import annotations

from typing import Any

from django import forms
from django.core.files.uploadedfile import UploadedFile

from core.audit import actions
from core.domain.figures import grouped
from core.web.forms import check_days
from labtests.domain.conditions.calibrations import Point
from labtests.domain.files.archive import MAX_FILES
from labtests.domain.files.calibration_points import read_points
from labtests.models import BenchTest, CalibratedQuantity, State
from labtests.selectors.trail import LAB_RECORDS, TrailFilter
from labtests.services import GivenFile

REASON_LENGTH = 2000
CERTIFICATE_HINT = "PDF, PNG or JPEG of up to 10 MB. Only people of the lab can open it."


def _reason(label: str, *, required: bool = True, hint: str = "") -> forms.CharField:
    return forms.CharField(
        label=label,
        required=required,
        max_length=REASON_LENGTH,
        help_text=hint,
        widget=forms.Textarea(attrs={"rows": 3}),
    )


class UploadForm(forms.Form):
    """The file, previewed before it is stored."""

    file = forms.FileField(
        label="Bench file, readings file or ZIP of them",
        help_text=f"CSV in UTF-8, up to 20 MB per file; a ZIP of up to {grouped(MAX_FILES)} files; 50 MB in all.",
        allow_empty_file=True,
        max_length=None,
    )


class AmendForm(UploadForm):
    """A corrected file of the same specimen."""

    reason = _reason("Why the test is replaced")


class ReviewForm(forms.Form):
    """A decision on a test that waits or is held; only what may be decided is offered."""

    decision = forms.ChoiceField(label="Decision", widget=forms.RadioSelect)
    reason = _reason("Reason", required=False, hint="Needed for all but approving. It stays in the audit trail.")

    CHOICES = {
        State.ACCEPTED: (
            ("approve", "Approve: the test is sound and within the protocol"),
            ("hold", "Put on hold: something is odd"),
            ("void", "Void: the test must not be used"),
        ),
        State.HELD: (
            ("release", "Keep on record, marked as outside the protocol; it is never published"),
            ("void", "Void: the test must not be used"),
        ),
        State.APPROVED: (("void", "Void: the test must no longer be used"),),
    }

    IN_DOUBT = ("clear_doubt", "Clear the doubt of the incident: the test waits for review again")

    def __init__(self, *args: Any, test: BenchTest, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        decision = self.fields["decision"]
        offered = self.CHOICES.get(State(test.state), ())
        if isinstance(decision, forms.ChoiceField):
            decision.choices = (self.IN_DOUBT, *offered) if test.is_in_doubt else offered

    def clean(self) -> dict[str, Any]:
        cleaned: dict[str, Any] = super().clean() or {}
        decision = cleaned.get("decision")
        if decision and decision != "approve" and not cleaned.get("reason"):
            self.add_error("reason", "Give a reason.")
        return cleaned


class ReasonForm(forms.Form):
    """Why something is done."""

    reason = _reason("Reason", hint="It stays in the audit trail.")


class ShoeFilterForm(forms.Form):
    """Which shoes are listed."""

    all_optional = True
    q = forms.CharField(label="Brand, name or short name", required=False, max_length=80)


class RigForm(forms.Form):
    """A rig to set up."""

    code = forms.CharField(label="Code", max_length=64, help_text="As in the files, such as rig-3.")
    name = forms.CharField(label="Name", max_length=80, required=False)


def _day(label: str) -> forms.DateField:
    return forms.DateField(label=label, widget=forms.DateInput(attrs={"type": "date"}))


class CalibrationForm(forms.Form):
    """What a certificate says."""

    quantity = forms.ChoiceField(label="Quantity", choices=CalibratedQuantity.choices)
    certificate = forms.CharField(label="Certificate", max_length=80, help_text="Its number.")
    calibrated_on = _day("Calibrated on")
    due_on = _day("Due on")
    standard_uncertainty = forms.FloatField(
        label="Standard uncertainty",
        help_text="k = 1, in N, N·m, mm, ° or °C. Half of a certificate’s U at k = 2.",
    )
    resolution = forms.FloatField(label="Resolution", help_text="The smallest step the rig shows, in the same unit.")
    degrees_of_freedom = forms.FloatField(
        label="Degrees of freedom of u", required=False, help_text="Empty where the certificate gives none."
    )
    laboratory = forms.CharField(label="Laboratory", max_length=120, required=False)
    reference_standard = forms.CharField(
        label="Reference standard", max_length=200, required=False, help_text="Such as a load cell and its number."
    )
    range_low = forms.FloatField(label="Range from", required=False)
    range_high = forms.FloatField(label="Range to", required=False)
    zero = forms.FloatField(label="Zero error", required=False, help_text="What the rig shows at 0, as left.")
    gain = forms.FloatField(
        label="Gain", required=False, help_text="What the rig shows per unit of the true value, such as 1.002."
    )
    points = forms.CharField(
        label="Points",
        required=False,
        max_length=10_000,
        help_text="One line per point: reference; as found; as left where it was adjusted.",
        widget=forms.Textarea(attrs={"rows": 4}),
    )
    file = forms.FileField(
        label="File of the certificate", required=False, help_text=CERTIFICATE_HINT, allow_empty_file=True
    )

    def clean_points(self) -> tuple[Point, ...]:
        points, problems = read_points(self.cleaned_data["points"])
        if problems:
            raise forms.ValidationError(list(problems))
        return points

    def given(self) -> dict[str, Any]:
        """What the service takes."""
        return {**self.cleaned_data, "file": given_file(self.cleaned_data["file"])}


class CertificateForm(forms.Form):
    """The file of a certificate that is on record without one."""

    file = forms.FileField(label="File of the certificate", help_text=CERTIFICATE_HINT, allow_empty_file=True)


def given_file(file: UploadedFile[Any] | None) -> GivenFile | None:
    return GivenFile(file.name or "", bytes(file.read())) if file else None


# Words of actions that are not the name of their model.
RECORDS = {
    "labtests.test": "labtests.benchtest",
    "catalogue.stock": "catalogue.stockitem",
    "catalogue.transfer": "catalogue.stocktransfer",
}


def trail_actions() -> list[str]:
    """List the actions on records of the lab and the catalogue, by name."""
    return sorted(name for name in actions() if name.startswith(LAB_RECORDS))


def record_choices() -> list[tuple[str, str]]:
    """List the kinds of record that have such actions, each with its words."""
    kinds = sorted({name.rpartition(".")[0].replace("_", "") for name in trail_actions()})
    return [(RECORDS.get(kind, kind), kind.split(".")[1]) for kind in kinds]


class TrailForm(forms.Form):
    """Which entries of the audit trail are listed: who, what, when."""

    all_optional = True
    who = forms.CharField(label="Who, sign-in name", required=False, max_length=150)
    action = forms.ChoiceField(label="What", required=False)
    record = forms.ChoiceField(label="Kind of record", required=False)
    number = forms.CharField(label="Record number", required=False, max_length=64)
    since = forms.DateField(label="From", required=False, widget=forms.DateInput(attrs={"type": "date"}))
    until = forms.DateField(label="To", required=False, widget=forms.DateInput(attrs={"type": "date"}))

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        named = [(name, name.split(".", 1)[1].replace(".", " ").replace("_", " ")) for name in trail_actions()]
        self._offer("action", named)
        self._offer("record", record_choices())

    def _offer(self, name: str, choices: list[tuple[str, str]]) -> None:
        field = self.fields[name]
        if isinstance(field, forms.ChoiceField):
            field.choices = [("", "any"), *choices]

    def clean(self) -> dict[str, Any]:
        given: dict[str, Any] = super().clean() or {}
        check_days(self)
        return given

    def asked(self) -> TrailFilter:
        return TrailFilter(**{name: value for name, value in self.cleaned_data.items() if value})
