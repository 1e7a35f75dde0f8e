"""Forms for sign-in, accounts and stores. They check the format; the services check the practice's rules."""

from __future__ import annotations

from typing import Any

from django import forms
from django.contrib.auth import authenticate
from django.contrib.auth.forms import AuthenticationForm, UsernameField
from django.contrib.auth.validators import UnicodeUsernameValidator
from django.core.exceptions import ValidationError
from django.http import HttpRequest

from core.accounts.selectors import STATES, AccountFilter
from core.gate.access import Role
from core.gate.token_scopes import TokenScope
from core.models import SizeSystem, Store, User, currency_code, printable, undirected
from core.web.forms import ReasonForm

USER_NAME_MAX_LENGTH = 150
PASSWORD_MAX_LENGTH = 256
CODE_MAX_LENGTH = 40
TOKEN_DAYS = (30, 90, 365)
WRONG_CREDENTIALS = "This user name and password do not match an account. Both are case-sensitive."


class SignInForm(AuthenticationForm):
    """User name and password. The refusal is the same whether there is such an account or not."""

    error_messages = {"invalid_login": WRONG_CREDENTIALS, "inactive": WRONG_CREDENTIALS}
    # A longer name than any account has would not fit into the table of failed sign-ins.
    username = UsernameField(
        label="User name", max_length=USER_NAME_MAX_LENGTH, widget=forms.TextInput({"autofocus": True})
    )


class CodeForm(forms.Form):
    """A code of the second factor, or a recovery code."""

    code = forms.CharField(
        label="Code",
        max_length=CODE_MAX_LENGTH,
        help_text="Six digits from your device, or one of your recovery codes.",
        widget=forms.TextInput(
            attrs={"autocomplete": "one-time-code", "autocapitalize": "none", "spellcheck": "false"}
        ),
    )


def _password(label: str, *, new: bool, hint: str = "") -> forms.CharField:
    attrs = {"autocomplete": "new-password" if new else "current-password"}
    return forms.CharField(
        label=label,
        strip=False,
        max_length=PASSWORD_MAX_LENGTH,
        help_text=hint,
        widget=forms.PasswordInput(attrs=attrs),
    )


class OwnPasswordForm(forms.Form):
    """Asks for the user's password before a change that outlives the session; a wrong one is a failed sign-in."""

    current_password = _password("Your password", new=False)

    def __init__(self, *args: Any, request: HttpRequest, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.request = request

    def clean_current_password(self) -> str:
        password: str = self.cleaned_data["current_password"]
        if authenticate(self.request, username=self.request.user.get_username(), password=password) is None:
            raise ValidationError("That is not your password.", code="wrong_password")
        return password


def _email() -> forms.EmailField:
    return forms.EmailField(
        label="E-mail address",
        max_length=254,
        required=False,
        help_text="Where the owner is informed of changes to the account: new passwords, roles, tokens, locks.",
    )


def _refuse_different(form: forms.Form, read: dict[str, Any] | None) -> dict[str, Any]:
    cleaned = read or {}
    first, second = cleaned.get("new_password"), cleaned.get("new_password_again")
    if first and second and first != second:
        form.add_error("new_password_again", "The two new passwords differ.")
    return cleaned


class PasswordChangeForm(OwnPasswordForm):
    new_password = _password("New password", new=True)
    new_password_again = _password("New password, again", new=True)
    revoke_tokens = forms.BooleanField(
        label="Revoke my API tokens too",
        required=False,
        help_text="Do this if somebody else may have known your password. Programs that use them will be refused.",
    )

    def clean(self) -> dict[str, Any]:
        return _refuse_different(self, super().clean())


class FirstPasswordForm(forms.Form):
    """The password that the holder of a single-use link chooses."""

    new_password = _password("Password", new=True)
    new_password_again = _password("Password, again", new=True)

    def clean(self) -> dict[str, Any]:
        return _refuse_different(self, super().clean())


class TokenForm(OwnPasswordForm):
    """An API token: its purpose and its lifetime."""

    label = forms.CharField(
        label="What it is for",
        max_length=80,
        required=False,
        validators=[printable],
        help_text="For example the program or the rig that will use it.",
    )
    days = forms.TypedChoiceField(
        label="Expires after",
        coerce=int,
        choices=[(days, f"{days} days") for days in TOKEN_DAYS],
        initial=TOKEN_DAYS[1],
    )
    scope = forms.ChoiceField(
        label="It may be used for", choices=TokenScope.choices, initial=TokenScope.FULL, required=False
    )
    field_order: tuple[str, ...] = ("label", "scope", "days", "current_password")

    def clean_scope(self) -> str:
        return self.cleaned_data["scope"] or TokenScope.FULL


class EmailForm(OwnPasswordForm):
    """Where the owner of an account is informed of changes to it."""

    email = _email()
    field_order: tuple[str, ...] = ("email", "current_password")


class NameForm(forms.Form):
    first_name = forms.CharField(label="First name", max_length=150, required=False, validators=[printable, undirected])
    last_name = forms.CharField(label="Last name", max_length=150, required=False, validators=[printable, undirected])


class DetailsForm(NameForm):
    """What of an account can be changed: the displayed name and the e-mail address."""

    email = _email()


class PersonForm(DetailsForm):
    """A new account, before it has a role."""

    username = forms.CharField(
        label="User name",
        max_length=USER_NAME_MAX_LENGTH,
        validators=[UnicodeUsernameValidator()],
        help_text="Letters, digits and @ . + - _ only. It cannot be changed later.",
        widget=forms.TextInput(attrs={"autocomplete": "off", "autocapitalize": "none", "spellcheck": "false"}),
    )
    field_order: tuple[str, ...] = ("username", "first_name", "last_name", "email")


class FirstSignInForm(forms.Form):
    """How the owner of a new account gets in first."""

    LINK, PASSWORD = "link", "password"
    first_sign_in = forms.ChoiceField(
        label="First sign-in",
        choices=[
            (LINK, "by a single-use link: they choose their own password"),
            (PASSWORD, "by a temporary password that you hand over"),
        ],
        initial=LINK,
        required=False,
        widget=forms.RadioSelect,
    )

    def take_first_sign_in(self) -> bool:
        """Return whether a link is wanted, and take the choice out of the data for the service."""
        return bool(self.cleaned_data.pop("first_sign_in") == self.LINK)


class RoleForm(forms.Form):
    """A role, with a store if the role needs one."""

    role = forms.ChoiceField(label="Role", choices=Role.choices)
    store = forms.ModelChoiceField(
        Store.objects.all(),
        label="Store",
        required=False,
        empty_label="no store",
        help_text="For fitters and store managers only. Leave empty for other roles.",
    )
    reason = ReasonForm.base_fields["reason"]

    def clean_role(self) -> Role:
        return Role(self.cleaned_data["role"])


class AccountForm(PersonForm, RoleForm, FirstSignInForm):
    """A new account with its first role."""

    field_order: tuple[str, ...] = (
        "username",
        "first_name",
        "last_name",
        "email",
        "role",
        "store",
        "first_sign_in",
        "reason",
    )


class FitterForm(PersonForm, ReasonForm, FirstSignInForm):
    """A new fitter for the manager's own store."""

    field_order: tuple[str, ...] = ("username", "first_name", "last_name", "email", "first_sign_in", "reason")


class ExistingFitterForm(ReasonForm):
    """Adds somebody who already has an account to this store as a fitter."""

    username = PersonForm.base_fields["username"]
    field_order: tuple[str, ...] = ("username", "reason")

    def clean_username(self) -> User:
        user = User.objects.filter(username=self.cleaned_data["username"], is_active=True).first()
        if user is None:
            raise ValidationError("No active account has this user name. User names are case-sensitive.")
        return user


class StoreForm(forms.Form):
    name = forms.CharField(label="Name", max_length=80, validators=[printable])
    street = forms.CharField(label="Street and number", max_length=120, required=False, validators=[printable])
    postcode = forms.CharField(label="Postcode", max_length=16, required=False, validators=[printable])
    town = forms.CharField(label="Town", max_length=80, required=False, validators=[printable])
    phone = forms.CharField(label="Telephone", max_length=40, required=False, validators=[printable])
    hours = forms.CharField(
        label="Opening hours",
        max_length=1000,
        required=False,
        widget=forms.Textarea,
        help_text="One line per day or group of days, as visitors will read it.",
    )

    currency = forms.CharField(
        label="Currency of its prices",
        max_length=3,
        required=False,
        validators=[currency_code],
        help_text="Three letters (ISO 4217), such as EUR. Empty: the practice’s own.",
    )
    size_system = forms.ChoiceField(
        label="Sizes are written as",
        choices=SizeSystem.choices,
        required=False,
        help_text="On the store’s working pages. UK and US sizes are converted and approximate.",
    )

    def clean_size_system(self) -> str:
        return self.cleaned_data["size_system"] or SizeSystem.EU

    def clean_hours(self) -> str:
        return "\n".join(line.strip() for line in self.cleaned_data["hours"].splitlines()).strip()


class NewStoreForm(StoreForm):
    slug = forms.SlugField(
        label="Address on the web",
        max_length=50,
        error_messages={"invalid": "Use lower-case letters, digits and hyphens only."},
        help_text="The last part of the page address: lower-case letters, digits, hyphens. It cannot be changed later.",
    )
    is_training = forms.BooleanField(
        label="A training store",
        required=False,
        help_text="Staff learn there with invented people. Nothing recorded there counts in any figure, it has no page "
        "for visitors, and it holds no stock. This cannot be changed later.",
    )
    field_order: tuple[str, ...] = ("name", "slug", "is_training")

    def clean_slug(self) -> str:
        slug: str = self.cleaned_data["slug"]
        if slug != slug.lower():
            raise ValidationError("Use lower-case letters only.")
        return slug


class AccountFilterForm(forms.Form):
    """The filters of the list of accounts."""

    all_optional = True
    q = forms.CharField(label="Name", max_length=80, required=False, widget=forms.SearchInput)
    role = forms.ChoiceField(label="Role", choices=[("", "any"), *Role.choices], required=False)
    store = forms.ModelChoiceField(Store.objects.all(), label="Store", required=False, empty_label="any")
    state = forms.ChoiceField(label="State", choices=[("", "any"), *STATES.items()], required=False)

    def wanted(self) -> AccountFilter:
        """Return the filter; an invalid value is ignored, and the form shows the error."""
        self.is_valid()
        read = self.cleaned_data
        return AccountFilter(
            q=read.get("q", ""), role=read.get("role", ""), store=read.get("store"), state=read.get("state", "")
        )
