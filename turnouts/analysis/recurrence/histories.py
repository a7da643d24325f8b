"""The events of components against tonnage, as every method of this folder takes them."""

from collections.abc import Sequence
from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class History:
    """Events on one component between two tonnages (MGT over it); an event at the end counts.

    ``begins_mgt`` is above zero where the record begins later than the component's life.
    ``ends_at_event`` where watching stopped because of the last event (failure truncated), not at
    a day of its own (time truncated).
    """

    key: str
    events_mgt: tuple[float, ...]
    ends_mgt: float
    begins_mgt: float = 0.0
    ends_at_event: bool = False

    def __post_init__(self) -> None:
        if not 0 <= self.begins_mgt < self.ends_mgt:
            raise ValueError(f"{self.key}: a history must end after it begins, and not below 0.")
        outside = [e for e in self.events_mgt if not self.begins_mgt < e <= self.ends_mgt]
        if outside:
            raise ValueError(
                f"{self.key}: an event at {outside[0]:g} MGT lies outside the history from "
                f"{self.begins_mgt:g} to {self.ends_mgt:g} MGT. Correct one of them."
            )
        if self.ends_at_event and (not self.events_mgt or max(self.events_mgt) != self.ends_mgt):
            raise ValueError(f"{self.key}: the last event is not where the history ends.")


def counted(histories: Sequence[History]) -> tuple[int, float]:
    """Events in all, and the tonnage watched in all."""
    events = sum(len(h.events_mgt) for h in histories)
    return events, sum(h.ends_mgt - h.begins_mgt for h in histories)
