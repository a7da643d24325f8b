"""What a sheet is: its model, its columns, its key, who may write it, and the steps of its own.

A column of the model's own is declared by name only: the model says what it may hold, whether it
may be empty, and which words it knows.
"""

from collections.abc import Callable
from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING, Any

from django.db import models
from django.db.models import Field, Model, Q

from turnouts.access import Action
from turnouts.analysis.units import Dimension
from turnouts.services.sheets.kinds import (
    Day,
    Kind,
    Moment,
    Number,
    Text,
    Whole,
    Word,
    Written,
    YesNo,
)

if TYPE_CHECKING:
    from turnouts.services.sheets.batch import Batch

Step = Callable[["Batch"], None]


@dataclass(frozen=True, slots=True)
class Lookup:
    """Rows that other sheets name: by which sheet they are written, and by which paths they are
    named. ``of_all`` rows lie in no territory and may be named by anybody."""

    noun: str
    sheet: str
    model: type[Model]
    paths: tuple[str, ...]
    of_all: bool = False


@dataclass(frozen=True, slots=True)
class Own:
    """A column that fills a field of the model as it stands.

    ``derived`` where one of the sheet's own steps fills the field when the cell is empty;
    ``words`` where it takes only these, though the field takes any text.
    """

    name: str
    field: str = ""
    key: bool = False
    derived: bool = False
    words: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Measured:
    """A column with a unit in its header. Without a ``field`` the sheet's own steps use it."""

    name: str
    dimension: Dimension
    field: str = ""
    key: bool = False


@dataclass(frozen=True, slots=True)
class Names:
    """A column that names a row of another sheet, by itself or ``by`` several columns together."""

    name: str
    lookup: Lookup
    field: str = ""
    by: tuple[str, ...] = ()
    key: bool = False


@dataclass(frozen=True, slots=True)
class Extra:
    """A column that no field keeps: part of a name, or input of the sheet's own steps.

    ``path`` is where export reads it; empty where the sheet's own export step writes it.
    """

    name: str
    kind: Kind
    required: bool = False
    key: bool = False
    path: str = ""


Column = Own | Measured | Names | Extra


@dataclass(frozen=True, slots=True)
class Bound:
    """A column with all the model says of it."""

    column: Column
    name: str
    attname: str  # empty: kept by no field
    kind: Kind | None  # None: a measured column, whose header brings the unit
    dimension: Dimension | None
    places: int
    required: bool
    empty: Any
    key: bool


Cells = dict[str, Written]
Fill = Callable[[list[dict[str, Any]], dict[str, Kind]], list[Cells]]


@dataclass(frozen=True, slots=True)
class Exported:
    """How a sheet is written where its cells do not stand in its rows.

    ``fill`` gets the rows, with ``paths`` read besides the columns' own, and the kinds of the
    columns; it gives the cells that it knows better, row by row. ``leave_out`` says which records
    are none of this sheet's; ``order`` how people read them, where not by their key.
    """

    paths: tuple[str, ...] = ()
    fill: Fill | None = None
    leave_out: Q | None = None
    order: tuple[str, ...] = ()


@dataclass(frozen=True)
class Sheet:
    """One kind of record as a sheet.

    ``match`` lists the fields that tell one record from another where the key columns do not fill
    them directly. ``fixed`` fields never change once written. ``beside`` fields are written along
    with a change but are none by themselves. ``placed_by`` names the fields whose rows lie in a
    territory where the model itself does not say; empty, the right is needed everywhere. ``asked``
    columns must stand in the header though a cell may be empty, because that would say too much.
    """

    name: str
    model: type[Model]
    right: Action
    columns: tuple[Column, ...]
    see: Action = Action.SEE
    match: tuple[str, ...] = ()
    fixed: tuple[str, ...] = ()
    beside: tuple[str, ...] = ()
    placed_by: tuple[str, ...] | None = None
    asked: tuple[str, ...] = ()
    written_once: bool = False
    before: tuple[Step, ...] = ()  # fill values that other columns and other rows decide
    checks: tuple[Step, ...] = ()  # refuse what cannot be, in sentences
    after: tuple[Step, ...] = ()  # rows that follow from the rows written
    new: Callable[[], dict[str, Any]] | None = None
    exported: Exported = Exported()

    @cached_property
    def bound(self) -> dict[str, Bound]:
        return {column.name: _bind(self.model, column) for column in self.columns}

    @cached_property
    def key_columns(self) -> tuple[str, ...]:
        return tuple(bound.name for bound in self.bound.values() if bound.key)

    @cached_property
    def left_empty(self) -> tuple[Bound, ...]:
        """Key columns that a file may leave out: they are then empty in each of its rows."""
        return tuple(
            bound
            for bound in self.bound.values()
            if bound.key and not bound.required and bound.name not in self.asked
        )

    @cached_property
    def match_fields(self) -> tuple[str, ...]:
        return self.match or tuple(self.bound[name].attname for name in self.key_columns)


def _bind(model: type[Model], column: Column) -> Bound:
    if isinstance(column, Extra) or (isinstance(column, Measured) and not column.field):
        return _unkept(column)
    field: Field[Any, Any] = model._meta.get_field(column.field or column.name)  # type: ignore[assignment]
    measured = isinstance(column, Measured)
    derived = isinstance(column, Own) and column.derived
    return Bound(
        column=column,
        name=column.name,
        attname=field.attname,
        kind=None if measured else _kind(field, column),
        dimension=column.dimension if isinstance(column, Measured) else None,
        places=getattr(field, "decimal_places", 0) or 0,
        required=not (field.null or field.blank or field.has_default() or derived),
        empty=None if derived else _empty(field),
        key=column.key,
    )


def _unkept(column: Extra | Measured) -> Bound:
    return Bound(
        column=column,
        name=column.name,
        attname="",
        kind=column.kind if isinstance(column, Extra) else None,
        dimension=None if isinstance(column, Extra) else column.dimension,
        places=7,
        required=isinstance(column, Extra) and column.required,
        empty=None,
        key=column.key,
    )


def _empty(field: "Field[Any, Any]") -> Any:
    if field.null:
        return None
    return field.get_default() if field.has_default() else ""


_ANY_TEXT = Text()


def _kind(field: "Field[Any, Any]", column: Column) -> Kind:
    """The kind that the model's field asks for."""
    if isinstance(column, Names):
        return _ANY_TEXT
    if isinstance(column, Own) and column.words:
        return Word(column.words)
    if field.choices:
        return Word(tuple(str(value) for value, _ in field.flatchoices))
    if isinstance(field, models.DateTimeField):
        return Moment()
    if isinstance(field, models.DateField):
        return Day()
    if isinstance(field, models.BooleanField):
        return YesNo()
    if isinstance(field, models.DecimalField):
        return Number(field.decimal_places or 0, field.max_digits or 0)
    if isinstance(field, models.PositiveSmallIntegerField):
        return Whole(0, 32_767)
    if isinstance(field, models.CharField | models.TextField):
        return Text(tuple(field.validators))
    raise TypeError(f"No kind of column is known for {field}.")
