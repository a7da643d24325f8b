"""The form that puts one entry right: its boxes, its moment, or struck out; and why."""

from collections.abc import Mapping
from datetime import datetime
from decimal import Decimal
from typing import Any
from uuid import UUID, uuid4

from django import forms
from django.forms.boundfield import BoundField
from django.utils import timezone

from repairs.field.events import Kind
from repairs.models import FieldEvent
from repairs.pages.put_right_boxes import Sheet, boxes_of
from repairs.services.put_right import PutRight, Standing

WHAT = "entry "
"""What the names of the entry's own boxes begin with."""


class MomentField(forms.DateTimeField):
    """Day and time by the railway's clock; left as it is shown, it stays exactly what it was."""

    def __init__(self, held: datetime) -> None:
        shown = timezone.localtime(held).replace(microsecond=0, tzinfo=None)
        super().__init__(
            label="When it happened",
            initial=shown,
            widget=forms.DateTimeInput(
                {"type": "datetime-local", "step": "1"}, format="%Y-%m-%dT%H:%M:%S"
            ),
            error_messages={"invalid": "Give a day and a time, such as 2026-03-05 22:15."},
        )
        self.held, self.shown = held, timezone.make_aware(shown)

    def clean(self, value: Any) -> datetime:
        given: datetime = super().clean(value)
        return self.held if given == self.shown else given


class PutRightForm(forms.Form):
    """One entry as it holds now. ``data`` is None where it was struck out: its own words then."""

    name = forms.UUIDField(widget=forms.HiddenInput)
    held = forms.UUIDField(widget=forms.HiddenInput, required=False)
    records = forms.IntegerField(widget=forms.HiddenInput)

    def __init__(
        self,
        *args: Any,
        entry: FieldEvent,
        standing: Standing,
        sheet: Sheet,
        records: int,
        **kwargs: Any,
    ) -> None:
        super().__init__(*args, **kwargs)
        self.entry, self.standing = entry, standing
        self.fields["name"].initial = uuid4()
        self.fields["held"].initial = standing.held
        self.fields["records"].initial = records
        words = entry.data if standing.data is None else standing.data
        for key, field in boxes_of(Kind(entry.kind), words, sheet):
            self.fields[WHAT + key] = field
        self.fields["at"] = MomentField(standing.at)
        self.fields["struck"] = forms.BooleanField(
            label="Strike it out: it did not happen, or was entered twice",
            required=False,
            initial=standing.data is None,
        )
        self.fields["why"] = forms.CharField(
            label="Why it is put right",
            help_text="The reason stands in the record beside both, with your name.",
            max_length=300,
            widget=forms.Textarea(attrs={"rows": 2, "maxlength": 300}),
            error_messages={"required": "Say why it is put right; the reason stands beside both."},
        )

    def posted(self, name: str) -> UUID | None:
        """An id that came back with the form; None where it is none."""
        try:
            return UUID(self.data.get(name, ""))
        except ValueError:
            return None

    def full_clean(self) -> None:
        """Boxes of an entry that is struck out are not asked for."""
        if self.is_bound and self.data.get("struck"):
            for name, field in self.fields.items():
                if name.startswith(WHAT) or name == "at":
                    field.required = False
                    field.disabled = True
        super().full_clean()

    def boxes(self) -> list[BoundField]:
        """The entry's own boxes, and its moment."""
        return [self[name] for name in self.fields if name.startswith(WHAT) or name == "at"]

    def clean(self) -> dict[str, Any]:
        given = super().clean() or {}
        if not self.errors and self._is_as_it_was(given):
            self.add_error(
                "struck",
                "Nothing is changed: say above what holds instead, or strike the entry out here.",
            )
        return given

    def _is_as_it_was(self, given: dict[str, Any]) -> bool:
        before = self.standing
        if given["struck"] or before.data is None:
            return bool(given["struck"]) and before.data is None
        boxes = {name for name in self.changed_data if name.startswith(WHAT)}
        return not boxes and given["at"] == before.at

    def data_given(self) -> Mapping[str, Any] | None:
        """What is to hold, as an event's data; None where the entry is struck out."""
        given = self.cleaned_data
        if given["struck"]:
            return None
        named = {k.removeprefix(WHAT): v for k, v in given.items() if k.startswith(WHAT)}
        return {k: _plain(v) for k, v in named.items() if v not in (None, "")}

    def change(self) -> PutRight:
        """What the service is asked for."""
        given = self.cleaned_data
        name: UUID = given["name"]
        return PutRight(
            of=self.entry.event_id,
            name=name,
            held=given["held"],
            data=self.data_given(),
            reason=given["why"],
            happened_at=self.standing.at if given["struck"] else given["at"],
        )


def _plain(value: Any) -> Any:
    return f"{value:f}" if isinstance(value, Decimal) else value
