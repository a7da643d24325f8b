"""Which welding procedure is in force on a day, and which suit a component."""

from collections.abc import Sequence
from datetime import date

from repairs.welding.own_editions import OwnEdition, laid_over
from repairs.welding.procedure_files import (
    InterpassRule,
    Procedure,
    all_editions,
    read_procedure,
)
from repairs.welding.refusals import NoProcedure
from turnouts.analysis.terms import ComponentKind, Steel

__all__ = [
    "InterpassRule",
    "Procedure",
    "all_editions",
    "procedure_in_force",
    "procedures_for",
    "read_procedure",
]


def procedure_in_force(procedure_id: str, on: date, own: Sequence[OwnEdition] = ()) -> Procedure:
    """The edition of one procedure that governs on a day.

    ``own`` are the railway's approved editions; from its day one of them goes before every shipped
    edition, until the railway's next one. Raises NoProcedure when the id is unknown or its first
    edition starts later.
    """
    editions = all_editions()
    if procedure_id not in editions:
        known = ", ".join(sorted(editions))
        raise NoProcedure(f"There is no procedure {procedure_id}; those on file are {known}.")
    governing = _governing(procedure_id, on, own)
    if governing is None:
        first = editions[procedure_id][0].start
        raise NoProcedure(
            f"Procedure {procedure_id} starts on {first}, after {on}; choose a later day of work "
            "or add an earlier edition."
        )
    return governing


def procedures_for(
    steel: Steel, component: ComponentKind, on: date, own: Sequence[OwnEdition] = ()
) -> tuple[Procedure, ...]:
    """The procedures in force on a day for this steel and component, fastest deposit first.

    Raises NoProcedure with a sentence when none is.
    """
    found = [p for name in all_editions() if (p := _governing(name, on, own)) is not None]
    fitting = [p for p in found if steel in p.steels and component in p.components]
    if not fitting:
        raise NoProcedure(
            f"No welding procedure in force on {on} covers a {component.label.lower()} of "
            f"{steel.label.lower()} steel; replace the part, or have an engineer add a procedure."
        )
    return tuple(sorted(fitting, key=lambda p: (-p.settings.deposit_rate_kg_per_h, p.id)))


def _governing(procedure_id: str, on: date, own: Sequence[OwnEdition]) -> Procedure | None:
    railways = [e for e in own if e.procedure == procedure_id and e.start <= on]
    if railways:
        return laid_over(max(railways, key=lambda edition: edition.start))
    started = [edition for edition in all_editions()[procedure_id] if edition.start <= on]
    return started[-1] if started else None
