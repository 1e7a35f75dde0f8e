"""Forms of who a customer is and how they are reached."""

from __future__ import annotations

from django import forms

from fittings.services.fitting.checks import NAME_MAX, PHONE_MAX


class PersonForm(forms.Form):
    """Who a customer is."""

    name = forms.CharField(label="Name", max_length=NAME_MAX, widget=forms.TextInput(attrs={"autocomplete": "off"}))
    email = forms.EmailField(label="E-mail address", required=False)
    phone = forms.CharField(
        label="Telephone", required=False, max_length=PHONE_MAX, widget=forms.TextInput(attrs={"inputmode": "tel"})
    )


class ContactForm(forms.Form):
    """How a customer is reached."""

    email = forms.EmailField(label="E-mail address", required=False)
    phone = forms.CharField(
        label="Telephone", required=False, max_length=PHONE_MAX, widget=forms.TextInput(attrs={"inputmode": "tel"})
    )
