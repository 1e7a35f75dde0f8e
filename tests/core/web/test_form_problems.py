"""A field left empty is named in one sentence that says what to do; other errors stay as the form wrote them."""

from __future__ import annotations

import pytest
from django import forms
from django.template.loader import render_to_string

from core.web.forms import field_problems

CHOICES = [("", "choose"), ("a", "A")]


class Asking(forms.Form):
    name = forms.CharField(label="Name")
    why = forms.CharField(label="Why?", widget=forms.Textarea)
    store = forms.ChoiceField(label="Store", choices=CHOICES)
    side = forms.ChoiceField(label="Side", choices=CHOICES[1:], widget=forms.RadioSelect)
    photo = forms.FileField(label="Photo")
    agreed = forms.BooleanField(label="I agree that my name is saved.")
    own = forms.CharField(label="Code", error_messages={"required": "Scan the code."})
    count = forms.IntegerField(label="Pairs", min_value=2, max_value=12)
    note = forms.CharField(label="Note", min_length=2, max_length=3, required=False)
    warmth = forms.FloatField(label="Warmth", min_value=-40.0, max_value=12_000.5, required=False)
    size = forms.DecimalField(label="Size", max_digits=3, decimal_places=1, required=False)


EMPTY = {
    "name": "Fill in “Name”.",
    "why": "Answer “Why?”.",
    "store": "Choose from “Store”.",
    "side": "Choose from “Side”.",
    "photo": "Choose a file for “Photo”.",
    "agreed": "Tick “I agree that my name is saved”.",
    "own": "Scan the code.",
    "count": "Fill in “Pairs”.",
}


def errors_of(form, name):
    form.is_valid()
    return [problem.text for problem in field_problems(form[name])]


@pytest.mark.parametrize(("name", "words"), EMPTY.items())
def test_empty_field_is_named_with_what_to_do(name, words):
    assert errors_of(Asking({}), name) == [words]


@pytest.mark.parametrize(
    ("name", "given", "words"),
    [
        ("note", "abcd", "Write at most 3 characters; these are 4."),
        ("note", "a", "Write at least 2 characters."),
        ("note", "a\0", "Remove the characters that cannot be seen; type the text."),
        ("count", "1", "Write 2 or more."),
        ("count", "13", "Write 12 or less."),
        ("warmth", "-41", "Write −40 or more."),
        ("warmth", "99999", "Write 12\u202f000.5 or less."),
        ("size", "4.25", "Digits after the decimal point: at most 1."),
        ("size", "4250", "Digits: at most 3."),
        ("size", "425", "Digits before the decimal point: at most 2."),
        ("store", "b" * 10_000, "This is not one of the choices of “Store”. Choose another."),
    ],
)
def test_limits_are_said_plainly(name, given, words):
    assert errors_of(Asking({name: given}), name) == [words]


def test_own_sentence_of_a_form_stays():
    class Choosing(forms.Form):
        store = forms.ChoiceField(choices=CHOICES, error_messages={"invalid_choice": "No such store."})

    assert errors_of(Choosing({"store": "b"}), "store") == ["No such store."]


@pytest.mark.parametrize(
    ("field", "value", "sentence"),
    [
        (forms.FloatField(), "12,5", "Enter a number with a decimal point, such as 12.5."),
        (forms.DateField(), "soon", "Enter a valid date: year, month and day, such as 2026-03-04."),
        (
            forms.DateTimeField(),
            "noon",
            "Enter a valid date/time: year, month, day and time, such as 2026-03-04 10:15.",
        ),
        (forms.EmailField(), "nowhere", "Enter a valid e-mail address, such as name@example.org."),
    ],
)
def test_how_a_value_is_written_is_shown_by_an_example(field, value, sentence):
    form = type("Example", (forms.Form,), {"asked": field})({"asked": value})
    assert errors_of(form, "asked") == [sentence]


def test_other_errors_stay():
    assert errors_of(Asking({"count": "many"}), "count") == ["Enter a whole number, such as 12."]
    form = Asking({"name": "x"})
    form.add_error("name", "Nobody has this name.")
    assert errors_of(form, "name") == ["Nobody has this name."]


def test_summary_names_each_field_once():
    form = Asking({"count": "many"})
    form.is_valid()
    page = render_to_string("components/form_errors.html", {"form": form})
    assert '<a href="#id_name">Fill in “Name”.</a></li>' in page
    assert '<a href="#id_own">Code</a>: Scan the code.</li>' in page
    assert '<a href="#id_count">Pairs</a>: Enter a whole number, such as 12.</li>' in page


def test_error_of_a_group_is_read_with_it():
    form = Asking({})
    form.is_valid()
    page = render_to_string("components/field.html", {"field": form["side"]})
    assert 'aria-describedby="id_side_error"' in page
    assert 'id="id_side_error"' in page


@pytest.mark.parametrize(("hint", "is_marked"), [("Needed to dismiss it.", False), ("At most 300.", True), ("", True)])
def test_a_hint_that_says_when_a_field_is_needed_takes_the_place_of_the_mark(hint, is_marked):
    class Deciding(forms.Form):
        reason = forms.CharField(label="Reason", required=False, help_text=hint)

    page = render_to_string("components/field.html", {"field": Deciding()["reason"]})
    assert (">optional<" in page) == is_marked
