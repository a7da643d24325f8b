"""What stands at a milepost moves along when the post is found to stand elsewhere."""

from collections import defaultdict
from dataclasses import dataclass
from decimal import Decimal
from typing import Any

from django.db.models import F, Model

from turnouts.analysis.linear import MilepostError
from turnouts.models import TrackClass, Turnout
from turnouts.services.sheets.batch import Batch, Row
from turnouts.services.sheets.posts import Posts, posts_of

_AT_ONCE = 2_000
_ASIDE_M = 50_000_000


@dataclass(frozen=True, slots=True)
class Place:
    """Fields that keep the distance along the line of a reading beside each of them."""

    model: type[Model]
    line: str
    chainages: tuple[tuple[str, str], ...]  # reading, distance


_PLACES: list[Place] = [Place(Turnout, "track__line_id", (("milepost", "chainage_m"),))]


def register_places(*places: Place) -> None:
    """Add what another app keeps by milepost."""
    _PLACES.extend(places)


def keep_class_limits(batch: Batch) -> None:
    """Before posts move: limits of track classes as readings, for they keep distances only."""
    lines = _lines(batch)
    posts = posts_of(lines)
    for one in TrackClass.objects.filter(track__line_id__in=lines).select_related("track"):
        line = one.track.line_id
        try:
            limits = (posts.reading(line, one.from_m), posts.reading(line, one.to_m))
        except MilepostError:
            batch.upload.notes.append(f"{one} stays where it is: it begins or ends off the posts.")
        else:
            batch.upload.class_limits[one.pk] = limits


def move_places(batch: Batch) -> None:
    """After posts moved: every distance that follows from a reading is worked out again."""
    posts = posts_of(_lines(batch))
    rows: dict[int, Row] = {}
    for row in batch.good():
        if row.is_new or row.changed:
            rows.setdefault(row.values["line_id"], row)
    moved = sum(_move(batch, place, posts, rows) for place in _PLACES)
    moved += _move_class_limits(batch, posts, rows)
    if moved:
        batch.upload.notes.append(f"{moved:,} places moved along with their mileposts.")


def _lines(batch: Batch) -> set[int]:
    """Lines of which a post is new or stands elsewhere."""
    return {row.values["line_id"] for row in batch.good() if row.is_new or row.changed}


def _move(batch: Batch, place: Place, posts: Posts, rows: dict[int, Row]) -> int:
    records = place.model._default_manager.filter(**{f"{place.line}__in": rows}).order_by("pk")
    lines = dict(records.values_list("pk", place.line))
    moved: list[Any] = []
    for record in records:
        row, before = rows[lines[record.pk]], vars(record).copy()
        for reading, chainage in place.chainages:
            found = _chainage(batch, posts, row, getattr(record, reading), str(record))
            if found is not None:
                setattr(record, chainage, found)
        if vars(record) != before:
            moved.append(record)
    fields = [chainage for _, chainage in place.chainages]
    place.model._default_manager.bulk_update(moved, fields, batch_size=_AT_ONCE)
    return len(moved)


def _move_class_limits(batch: Batch, posts: Posts, rows: dict[int, Row]) -> int:
    moved: dict[int, list[TrackClass]] = defaultdict(list)
    classes = TrackClass.objects.filter(pk__in=batch.upload.class_limits)
    for one in classes.select_related("track__line"):
        row = rows.get(one.track.line_id)
        if row is None:
            continue
        limits = [
            _chainage(batch, posts, row, reading, str(one))
            for reading in batch.upload.class_limits[one.pk]
        ]
        if None not in limits and limits != [one.from_m, one.to_m]:
            one.from_m, one.to_m = limits  # type: ignore[assignment]
            moved[one.track_id].append(one)
    found = [one for of_track in moved.values() for one in of_track]
    # First out of the way all together: neighbours must not overlap even for a moment.
    TrackClass.objects.filter(pk__in=[one.pk for one in found]).update(
        from_m=F("from_m") + _ASIDE_M, to_m=F("to_m") + _ASIDE_M
    )
    TrackClass.objects.bulk_update(found, ["from_m", "to_m"], batch_size=_AT_ONCE)
    return len(found)


def _chainage(batch: Batch, posts: Posts, row: Row, reading: Decimal, what: str) -> Decimal | None:
    """Where ``reading`` is now; a fault on the line's first moved post when it is nowhere."""
    try:
        return posts.chainage_m(row.values["line_id"], reading)
    except MilepostError as error:
        batch.fault(row, "chainage", f"{what} has no place any more: {error}")
        return None
