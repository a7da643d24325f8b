"""What stands against a certificate, from the proofs that are on record."""

from dataclasses import replace
from datetime import date

import pytest

from repairs.welding.certificates import (
    WORDS_ONLY,
    Proof,
    ProofKind,
    faults_of,
    pass_mark_percent,
    proofs_asked,
    sentence_of,
)

DAY = date(2026, 3, 4)
WHOLE = [
    *(
        Proof(kind, DAY, "Ada Lund", True)
        for kind in (ProofKind.PLATE, ProofKind.MOCK, ProofKind.PENETRANT)
    ),
    Proof(ProofKind.WRITTEN, DAY, "Ada Lund", mark_percent=90),
]


def with_(**values: object) -> tuple[str, ...]:
    """The faults where the penetrant test says something else."""
    changed = [replace(p, **values) if p.kind is ProofKind.PENETRANT else p for p in WHOLE]  # type: ignore[arg-type]
    return faults_of("manganese-wire", changed)


def test_with_all_four_passed_nothing_stands_against_it() -> None:
    assert faults_of("manganese-wire", WHOLE) == ()
    assert sentence_of(()) == ""


@pytest.mark.parametrize("kind", list(ProofKind))
def test_each_missing_proof_is_named(kind: ProofKind) -> None:
    left = [proof for proof in WHOLE if proof.kind is not kind]
    assert faults_of("carbon-stick", left) == (f"the {kind.within} is missing",)


def test_a_date_an_examiner_and_a_result_are_each_asked_for() -> None:
    name = "the penetrant test of the mock repair"
    assert with_(on=None) == (f"{name} has no date",)
    assert with_(examiner="  ") == (f"{name} has no examiner",)
    assert with_(passed=None, on=None) == (f"{name} has no date and no result",)
    assert with_(passed=False) == (f"{name} was not passed",)


def test_the_mark_of_the_written_paper_counts_from_the_pass_mark_on() -> None:
    least = pass_mark_percent()
    for mark, faults in ((least, 0), (least - 1, 1)):
        proofs = [*WHOLE[:3], replace(WHOLE[3], mark_percent=mark)]
        assert len(faults_of("manganese-wire", proofs)) == faults
    assert sentence_of(faults_of("manganese-wire", proofs)) == (
        f"Not valid: the mark of the written paper, {least - 1} %, is under {least} %."
    )


@pytest.mark.parametrize("duty", WORDS_ONLY)
def test_grinding_and_duties_rest_on_words(duty: str) -> None:
    assert proofs_asked(duty) == ()
    assert faults_of(duty, []) == ()


def test_a_procedure_nobody_knows_asks_for_everything() -> None:
    assert proofs_asked("plasma") == tuple(ProofKind)
