"""What is said of a field that is wrong, in forms and to programs: what it is, and what to do.

The frameworks have sentences of their own for this; :func:`use_own_sentences` puts these in their
place for every field there is. A field that knows better brings its own ``error_messages``.
"""

from collections.abc import Mapping

from django import forms
from django.core import validators
from rest_framework import fields, relations, serializers

A_DAY = "Give a day, such as 2026-11-25."
A_DAY_AND_TIME = "Give day and time, such as 2026-11-25 09:30."
NO_CHOICE = "{} is none of the choices. Choose one of the list."
OUT_OF_LIST = "This is none of the choices, or no longer one. Choose one of the list."

FORMS: Mapping[type[forms.Field], dict[str, str]] = {
    forms.Field: {"required": "Fill this in."},
    forms.IntegerField: {"invalid": "Give a whole number, such as 3."},
    forms.DecimalField: {"invalid": "Give a number, such as 3.5."},
    forms.FloatField: {"invalid": "Give a number, such as 3.5."},
    forms.DateField: {"invalid": A_DAY},
    forms.TimeField: {"invalid": "Give a time of day, such as 21:30."},
    forms.DateTimeField: {"invalid": A_DAY_AND_TIME},
    forms.BooleanField: {"required": "Tick this if it is so; without it nothing is kept."},
    forms.ChoiceField: {
        "required": "Choose one of the list.",
        "invalid_choice": NO_CHOICE.format("%(value)s"),
    },
    forms.MultipleChoiceField: {
        "required": "Choose at least one of the list.",
        "invalid_choice": NO_CHOICE.format("%(value)s"),
    },
    forms.ModelChoiceField: {"required": "Choose one of the list.", "invalid_choice": OUT_OF_LIST},
    forms.FileField: {
        "required": "Choose a file.",
        "missing": "Choose a file.",
        "invalid": "No file came with the form. Choose it again.",
        "empty": "That file is empty. Choose another.",
    },
    forms.UUIDField: {
        "required": "The form had no key of its own; open the page again and try once more.",
        "invalid": "The form had no key of its own; open the page again and try once more.",
    },
}

LEAST, MOST = "Give {min_value} or more.", "Give {max_value} or less."
A_WHOLE_NUMBER, A_NUMBER = "Give a whole number, such as 3.", "Give a number, such as 3.5."
LONG = "Give at most {max_length} letters."
OF_A_LIST = {
    "not_a_list": "Give a list; this is {input_type}.",
    "empty": "Give at least one; the list is empty.",
    "min_length": "Give at least {min_length} of them.",
    "max_length": "Give at most {max_length} of them.",
}

API: Mapping[type[fields.Field], dict[str, str]] = {  # type: ignore[type-arg]
    fields.Field: {
        "required": "Give this field; it is missing.",
        "null": "Give a value; null says nothing here.",
    },
    fields.BooleanField: {"invalid": "Give true or false."},
    fields.CharField: {
        "invalid": "Give text.",
        "blank": "Give a word or more; this is empty.",
        "max_length": LONG,
        "min_length": "Give at least {min_length} letters.",
    },
    fields.IntegerField: {"invalid": A_WHOLE_NUMBER, "min_value": LEAST, "max_value": MOST},
    fields.FloatField: {"invalid": A_NUMBER, "min_value": LEAST, "max_value": MOST},
    fields.DecimalField: {
        "invalid": A_NUMBER,
        "min_value": LEAST,
        "max_value": MOST,
        "max_digits": "Give at most {max_digits} digits.",
        "max_decimal_places": "Give at most {max_decimal_places} digits after the point.",
        "max_whole_digits": "Give at most {max_whole_digits} digits before the point.",
    },
    fields.DateField: {"invalid": A_DAY, "datetime": A_DAY},
    fields.DateTimeField: {
        "invalid": "Give day and time, such as 2026-11-25T09:30:00Z.",
        "date": "Give the time too, such as 2026-11-25T09:30:00Z.",
    },
    fields.ChoiceField: {"invalid_choice": '"{input}" is none of the choices of this field.'},
    fields.MultipleChoiceField: {
        "invalid_choice": '"{input}" is none of the choices of this field.',
        "not_a_list": "Give a list; this is {input_type}.",
        "empty": "Give at least one of the choices.",
    },
    fields.FileField: {
        "required": "Send a file in this field.",
        "invalid": "Send a file in this field, as multipart/form-data.",
        "empty": "That file is empty. Send another.",
        "max_length": "Give the file a name of at most {max_length} letters.",
    },
    fields.ImageField: {"invalid_image": "Send a picture, such as a JPEG."},
    fields.JSONField: {"invalid": "Give text, a number, a list or an object as JSON."},
    relations.ManyRelatedField: OF_A_LIST,
    fields.ListField: OF_A_LIST,
    fields.DictField: {"not_a_dict": "Give an object of names and values; this is {input_type}."},
    fields.UUIDField: {"invalid": "Give an id such as 9f0c1c1e-6f0b-4d0e-9a55-2f3c8d1a7b60."},
    relations.SlugRelatedField: {
        "does_not_exist": "There is no {slug_name} {value}, or it is not yours to see.",
        "invalid": "Give a code in letters.",
    },
    serializers.Serializer: {"invalid": "Give an object of names and values; this is {datatype}."},
    serializers.ListSerializer: OF_A_LIST,
}

LIMITS: Mapping[type[validators.BaseValidator], str] = {
    validators.MinValueValidator: "Give %(limit_value)s or more.",
    validators.MaxValueValidator: "Give %(limit_value)s or less.",
    validators.MinLengthValidator: "Give at least %(limit_value)d letters; these are "
    "%(show_value)d.",
    validators.MaxLengthValidator: "Give at most %(limit_value)d letters; these are "
    "%(show_value)d.",
}


def use_own_sentences() -> None:
    """Put these in place of the frameworks' own; called once when the program starts."""
    for form_field, sentences in FORMS.items():
        form_field.default_error_messages = {**_own(form_field), **sentences}
    for api_field, sentences in API.items():
        api_field.default_error_messages = {**_own(api_field), **sentences}
    for validator, sentence in LIMITS.items():
        validator.message = sentence


def _own(field: type) -> dict[str, str]:
    """The sentences that the class has itself, not those it inherits."""
    return dict(vars(field).get("default_error_messages", {}))
