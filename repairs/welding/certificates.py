"""What a certificate rests on: the proofs its procedure asks, and what one still lacks."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

from repairs.welding.rows_toml import table_of
from turnouts.analysis.terms import Term

WORDS_ONLY = ("grinding", "employee_in_charge", "lookout")
"""What is shown under an examiner and written down in words; there is nothing to weld or etch."""


class ProofKind(Term):
    """One proof of a welder's skill or knowledge."""

    PLATE = "plate"
    MOCK = "mock"
    PENETRANT = "penetrant"
    WRITTEN = "written"

    @property
    def label(self) -> str:
        return _LABELS[self]

    @property
    def within(self) -> str:
        """Its name inside a sentence."""
        return self.label.lower()


_LABELS = {
    ProofKind.PLATE: "Groove test plate with macro-etch",
    ProofKind.MOCK: "Mock repair",
    ProofKind.PENETRANT: "Penetrant test of the mock repair",
    ProofKind.WRITTEN: "Written paper",
}


@dataclass(frozen=True, slots=True)
class Proof:
    """One proof as it is on record; what nobody wrote down yet is None or empty.

    ``passed`` is the result; of a written paper it follows from ``mark_percent``.
    """

    kind: ProofKind
    on: date | None = None
    examiner: str = ""
    passed: bool | None = None
    mark_percent: int | None = None

    @property
    def outcome(self) -> bool | None:
        """Whether it was passed; None while no result is on record."""
        if self.kind is not ProofKind.WRITTEN:
            return self.passed
        return None if self.mark_percent is None else self.mark_percent >= pass_mark_percent()


def pass_mark_percent() -> int:
    """The least mark of a written paper, in percent; assumed, see ``rows/certificates.toml``."""
    return int(table_of("certificates", "welding").number("pass_mark_percent"))


def proofs_asked(procedure: str) -> tuple[ProofKind, ...]:
    """The proofs that a certificate for ``procedure`` must show; none where words are enough.

    A procedure that nobody knows asks all of them, which is the safe side.
    """
    if procedure in WORDS_ONLY:
        return ()
    words = table_of("certificates", "welding")["proofs"].words
    return tuple(ProofKind(word) for word in words)


def faults_of(procedure: str, proofs: Sequence[Proof]) -> tuple[str, ...]:
    """What stands against a certificate, in words, proof by proof; nothing when it is whole."""
    kept = {proof.kind: proof for proof in proofs}
    wanted = proofs_asked(procedure)
    found = (_fault(kept.get(kind, Proof(kind))) for kind in ProofKind if kind in wanted)
    return tuple(fault for fault in found if fault)


def sentence_of(faults: Sequence[str]) -> str:
    """The faults as one sentence; nothing where there are none."""
    return f"Not valid: {'; '.join(faults)}." if faults else ""


def _fault(proof: Proof) -> str:
    if proof.outcome is False:
        return _failed(proof)
    result = "mark" if proof.kind is ProofKind.WRITTEN else "result"
    lacks = [
        name
        for name, there in (
            ("date", proof.on is not None),
            ("examiner", bool(proof.examiner.strip())),
            (result, proof.outcome is not None),
        )
        if not there
    ]
    if len(lacks) == 3:
        return f"the {proof.kind.within} is missing"
    return f"the {proof.kind.within} has no {' and no '.join(lacks)}" if lacks else ""


def _failed(proof: Proof) -> str:
    if proof.mark_percent is not None:
        least = pass_mark_percent()
        return f"the mark of the written paper, {proof.mark_percent} %, is under {least} %"
    return f"the {proof.kind.within} was not passed"
