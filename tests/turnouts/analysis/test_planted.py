"""What is planted in the invented railway is found where it was put, and nowhere else.

A small version; ``python -m tests.benchmarks.planted`` does the same over many seeds and prints how
often each truth is found and how often something is found where nothing is.
"""

from pathlib import Path

import pytest

from fixtures.make import make
from fixtures.planted import Planted, pass_of
from tests.turnouts.analysis.planted_search import BATCH_NAMED, Found, everything, nothing, search
from tests.turnouts.analysis.railway import members
from turnouts.analysis.ranking.comparison import Comparison, compare_family, over_all
from turnouts.analysis.ranking.comparison_words import summed_up
from turnouts.analysis.recurrence.log_rank import By
from turnouts.analysis.terms import DefectKind, Zone

SEED = 5


@pytest.fixture(scope="module")
def planted() -> Planted:
    return everything()


@pytest.fixture(scope="module")
def found(planted: Planted) -> Found:
    return search(SEED, planted)


@pytest.fixture(scope="module")
def quiet() -> Found:
    return search(SEED, nothing())


def test_the_bad_batch_is_found_and_no_other(found: Found) -> None:
    assert [group.name for group in found.batches] == [BATCH_NAMED]
    # about two defects a year elsewhere and four more on these
    assert found.batches[0].low > 1.3


def test_the_comparison_of_families_finds_it_too_and_nothing_where_nothing_was_put(
    found: Found, quiet: Found
) -> None:
    """As the night compares batches for the page of groups side by side."""
    there, nowhere = (compare_family(members(list(f.frogs)), By.BATCH) for f in (found, quiet))
    assert isinstance(there, Comparison)
    assert isinstance(nowhere, Comparison)
    told, silent = over_all([there, nowhere])
    assert [look.group for look in told.looks if look.stands_out] == [BATCH_NAMED]
    assert not any(look.differs for look in silent.looks)
    assert summed_up(told.looks).startswith(f"{BATCH_NAMED}: ")
    assert summed_up(silent.looks).startswith("No difference is shown")


def test_tight_guards_go_with_chipped_points_and_each_such_frog_is_hinted_at(
    found: Found, planted: Planted
) -> None:
    assert found.tight_guards_chip
    put = {p.turnout for p in planted.placed if p.what == "guard"}
    chipped = {
        frog.turnout
        for frog in found.frogs
        for d in frog.defects
        if frog.readings and (d.kind, d.zone) == (DefectKind.CHIP, Zone.POINT)
    }
    assert put & chipped
    assert put & chipped <= found.hinted_guards


def test_welds_done_hot_do_not_last_and_their_spalls_are_hinted_at(
    found: Found, planted: Planted
) -> None:
    assert found.hot_welds_differ
    put = {p.which for p in planted.placed if p.what == "weld"}
    named = {w.reference for f in found.frogs for w in f.welds}
    assert put <= named
    assert len(found.hinted_welds) >= len(put) / 4


def test_where_nothing_was_put_nothing_is_found(quiet: Found) -> None:
    assert quiet.batches == ()
    assert not quiet.tight_guards_chip
    assert not quiet.hot_welds_differ


def test_without_any_option_the_railway_is_the_same_byte_for_byte(tmp_path: Path) -> None:
    make(tmp_path / "plain", seed=2)
    make(tmp_path / "asked", seed=2, planted=Planted())
    files = sorted(p.relative_to(tmp_path / "plain") for p in tmp_path.rglob("plain/*/*.csv"))
    assert files
    for file in files:
        plain, asked = ((tmp_path / name / file).read_bytes() for name in ("plain", "asked"))
        assert plain == asked


def test_more_tight_guards_than_there_are_guards_are_refused(tmp_path: Path) -> None:
    with pytest.raises(ValueError, match="have guard rails"):
        make(tmp_path, planted=Planted(tight_guards=61))


def test_a_pass_is_read_from_its_note_and_from_no_other() -> None:
    assert pass_of("Hottest pass 345 degC, limit 260 degC") == (345, 260)
    assert pass_of("Weld in track") is None
