"""A field that is wrong says what it is and what to do, in forms and to programs alike."""

import re
from collections.abc import Iterator
from typing import Any

import pytest
from django import forms
from django.core import validators
from django.core.exceptions import ValidationError
from django.test import Client
from django.urls import get_resolver
from rest_framework import serializers

from turnouts.fault_words import API, FORMS
from turnouts.models import Turnout

OURS = ("turnouts.", "repairs.", "planning.")
OF_A_FRAMEWORK = re.compile(r"This (field|value|list|selection)|Ensure|Enter a|Select a|[Vv]alid ")
SAID = ("required", "null", "blank", "invalid", "invalid_choice", "empty", "max_length",
        "min_value", "max_value", "not_a_list", "does_not_exist")  # fmt: skip


def below(kind: type) -> Iterator[type]:
    one: type
    for one in kind.__subclasses__():
        yield one
        yield from below(one)


def of_the_house(kind: type, fields: str) -> list[tuple[str, Any]]:
    """Every field of every form or serializer of ours, by its name."""
    assert get_resolver().url_patterns  # all pages and the API are read in
    return [
        (f"{one.__qualname__}.{name}", field)
        for one in below(kind)
        if one.__module__.startswith(OURS)
        for name, field in getattr(one, fields).items()
    ]


@pytest.mark.parametrize(
    ("kind", "fields"), [(forms.Form, "base_fields"), (serializers.Serializer, "_declared_fields")]
)
def test_no_field_of_the_house_speaks_as_the_framework_does(kind: type, fields: str) -> None:
    found = of_the_house(kind, fields)
    assert len(found) > 50
    bad = [
        (where, name, str(field.error_messages[name]))
        for where, field in found
        for name in SAID
        if OF_A_FRAMEWORK.search(str(getattr(field, "error_messages", {}).get(name, "")))
    ]
    assert not bad


@pytest.mark.parametrize("field", list(FORMS))
def test_an_empty_box_is_asked_for(field: type[forms.Field]) -> None:
    asked = field(queryset=Turnout.objects.none()) if field is forms.ModelChoiceField else field()
    with pytest.raises(ValidationError) as told:
        asked.clean(None)
    assert re.match("Fill|Choose|Tick|The form had", told.value.messages[0])


def test_sentences_name_the_limit_they_hold_to() -> None:
    for validator, value, said in (
        (validators.MinValueValidator(1), 0, "Give 1 or more."),
        (validators.MaxValueValidator(20), 21, "Give 20 or less."),
        (validators.MaxLengthValidator(3), "long", "Give at most 3 letters; these are 4."),
        (validators.MinLengthValidator(5), "long", "Give at least 5 letters; these are 4."),
    ):
        with pytest.raises(ValidationError) as told:
            validator(value)
        assert told.value.messages == [said]


class _Asked(serializers.Serializer[Any]):
    welds = serializers.IntegerField(min_value=1, max_value=20)
    reason = serializers.CharField(max_length=3)
    on = serializers.DateField()
    kind = serializers.ChoiceField(["weld"])


@pytest.mark.parametrize(
    ("name", "given", "said"),
    [
        ("welds", None, "Give a value; null says nothing here."),
        ("welds", "many", "Give a whole number, such as 3."),
        ("welds", 0, "Give 1 or more."),
        ("welds", 21, "Give 20 or less."),
        ("reason", "", "Give a word or more; this is empty."),
        ("reason", "long", "Give at most 3 letters."),
        ("on", "soon", "Give a day, such as 2026-11-25."),
        ("kind", "hope", '"hope" is none of the choices of this field.'),
    ],
)
def test_a_program_reads_what_to_send(name: str, given: object, said: str) -> None:
    asked = _Asked(data={"welds": 1, "reason": "old", "on": "2026-01-01", "kind": "weld"})
    assert asked.is_valid()
    wrong = _Asked(data={**asked.initial_data, name: given})
    assert not wrong.is_valid()
    assert wrong.errors == {name: [said]}
    lacking = _Asked(data={k: v for k, v in asked.initial_data.items() if k != name})
    assert not lacking.is_valid()
    assert lacking.errors == {name: ["Give this field; it is missing."]}


def test_every_kind_of_field_keeps_the_sentences_it_does_not_change() -> None:
    for field in API:
        assert "required" in {k for one in field.__mro__ for k in _of(one)}, field
    assert "overflow" in serializers.FloatField.default_error_messages
    assert "no_name" in serializers.FileField.default_error_messages


def _of(kind: type) -> dict[str, str]:
    return dict(vars(kind).get("default_error_messages", {}))


@pytest.mark.django_db
def test_a_page_and_the_api_say_it(as_engineer: Client, spot: Turnout) -> None:
    page = as_engineer.post(f"/turnouts/{spot.code}/install/", {"serial": ""})
    assert page.status_code == 400
    assert "Fill this in." in page.content.decode()
    assert "Choose one of the list." in page.content.decode()
    told = as_engineer.post("/api/reviews/", {}, content_type="application/json")
    assert told.status_code == 400
    assert told.json()["territory"] == ["Give this field; it is missing."]
