"""Refusals with a sentence: what, where, and what to do. Pages and API give them their status."""


class Refused(ValueError):
    """The request cannot be done as it stands (400)."""


class Conflict(Refused):
    """Somebody else changed the row meanwhile, or it is in a state that forbids the step (409)."""


def check_version(name: str, present: int, expected: int) -> None:
    """Raise :class:`Conflict` when the row moved on since the person read it."""
    if present != expected:
        raise Conflict(
            f"{name} was changed by somebody else while you had it open. "
            "Nothing of yours was saved; look at the present state and try again."
        )
