"""The forms of a certificate: what it is for, its days, and its proofs one by one."""

from collections.abc import Iterator
from dataclasses import asdict
from typing import Any

from django import forms
from django.forms.boundfield import BoundField

from repairs.models import Qualification
from repairs.models.qualifications import EXAMINER
from repairs.services.certificates import Words, certifiable
from repairs.welding.certificates import ProofKind, pass_mark_percent, proofs_asked
from turnouts.templatetags.readings import words

RESULT = {
    ProofKind.PLATE: "plate_macro_etch",
    ProofKind.MOCK: "mock_repair",
    ProofKind.PENETRANT: "mock_penetrant",
    ProofKind.WRITTEN: "written_mark_percent",
}
"""Which box holds the result of a proof."""


class DayField(forms.DateField):
    """A day; where it is not required it may stay empty until the proof is given."""

    def __init__(self, label: str, *, required: bool = False) -> None:
        super().__init__(
            label=label,
            required=required,
            widget=forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d"),
        )


class CertificateForm(forms.Form):
    """What a certificate says. Boxes of proofs may stay empty; it does not count until they are
    filled."""

    def __init__(self, *args: Any, procedure: str, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.proofs = proofs_asked(procedure)
        self.fields["issued_on"] = DayField("Issued on", required=True)
        self.fields["expires_on"] = DayField("Last day; empty: none")
        self.fields["evidence"] = forms.CharField(
            label="Evidence, in words",
            max_length=200,
            widget=forms.Textarea(attrs={"rows": 2, "maxlength": 200}),
        )
        for kind in self.proofs:
            self._proof(kind)

    def _proof(self, kind: ProofKind) -> None:
        self.fields[f"{kind.value}_on"] = DayField("Day")
        self.fields[f"{kind.value}_examiner"] = forms.CharField(
            label="Examined by", max_length=EXAMINER, required=False
        )
        self.fields[RESULT[kind]] = _result(kind)

    def panels(self) -> Iterator[tuple[str, list[BoundField]]]:
        """Each proof with its boxes."""
        for kind in self.proofs:
            names = (f"{kind.value}_on", f"{kind.value}_examiner", RESULT[kind])
            yield kind.label, [self[name] for name in names]

    def days(self) -> list[BoundField]:
        """From when until when."""
        return [self[name] for name in ("issued_on", "expires_on")]

    def words(self) -> Words:
        given = self.cleaned_data
        names = [name for name in Words.__dataclass_fields__ if name in self.fields]
        return Words(**{name: given[name] for name in names})


class ChangeForm(CertificateForm):
    """The same for a certificate that is kept, with the version the person saw."""

    version = forms.IntegerField(widget=forms.HiddenInput)

    def __init__(self, *args: Any, row: Qualification, said: Words, **kwargs: Any) -> None:
        initial = asdict(said) | {"version": row.version}
        super().__init__(*args, procedure=row.procedure, initial=initial, **kwargs)


class PictureForm(forms.Form):
    """A picture of one proof."""

    picture = forms.FileField(
        label="Picture",
        help_text="JPEG, PNG or WebP; of a paper, photograph it. Place and device are taken out.",
        widget=forms.FileInput(attrs={"accept": "image/jpeg,image/png,image/webp"}),
    )

    def __init__(self, *args: Any, procedure: str, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        choices = [(kind.value, kind.label) for kind in proofs_asked(procedure)]
        self.fields["proof"] = forms.ChoiceField(label="Of which proof", choices=choices)


def procedure_choices() -> list[tuple[str, str]]:
    """What a certificate may be for, in words."""
    return [(key, words(key)) for key in certifiable()]


def _result(kind: ProofKind) -> forms.Field:
    if kind is ProofKind.WRITTEN:
        label = f"Mark, %; passed from {pass_mark_percent()}"
        return forms.IntegerField(label=label, min_value=0, max_value=100, required=False)
    choices = [("", "not known yet"), *Qualification.RESULTS]
    return forms.ChoiceField(label="Result", choices=choices, required=False)
