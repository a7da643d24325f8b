"""Filter shades by the published table, and the cautions that come with each kind of work."""

import pytest

from repairs.welding.procedures import Procedure
from repairs.welding.refusals import OutsideValidity
from repairs.welding.safety import filter_shade, grinding_cautions, weld_cautions
from repairs.welding.work import Conditions
from turnouts.analysis.terms import Steel


# 29 CFR 1910.133(a)(5). Bands share their ends; on an end the darker shade is taken.
@pytest.mark.parametrize(
    ("process", "current_a", "shade"),
    [
        ("SMAW", 59, 7),
        ("SMAW", 60, 8),
        ("SMAW", 159, 8),
        ("SMAW", 160, 10),
        ("SMAW", 249, 10),
        ("SMAW", 250, 11),
        ("SMAW", 550, 11),
        ("FCAW", 59, 7),
        ("FCAW", 60, 10),
        ("FCAW", 500, 10),
        ("CAC-A", 499, 10),
        ("CAC-A", 500, 11),
        ("CAC-A", 1000, 11),
    ],
)
def test_the_shade_follows_the_current(process: str, current_a: float, shade: int) -> None:
    assert filter_shade(process, current_a) == shade


@pytest.mark.parametrize(
    ("electrode_mm", "shade"),
    # 3/32 in, just under and on 5/32 in, 3/16 in, and over 1/4 in, all at 100 A.
    [(2.38, 8), (3.9, 8), (25.4 * 5 / 32, 10), (4.8, 10), (6.5, 11)],
)
def test_a_thick_stick_asks_for_a_darker_shade_than_its_current(
    electrode_mm: float, shade: int
) -> None:
    assert filter_shade("SMAW", 100, electrode_mm) == shade


@pytest.mark.parametrize(("process", "current_a"), [("SMAW", 551), ("FCAW", 501), ("CAC-A", 1001)])
def test_a_current_beyond_the_table_is_refused(process: str, current_a: float) -> None:
    with pytest.raises(OutsideValidity, match="beyond the shade table"):
        filter_shade(process, current_a)


def test_a_process_the_table_does_not_list_is_refused() -> None:
    with pytest.raises(OutsideValidity, match="ask the safety officer"):
        filter_shade("EBW", 100)


def test_welding_manganese_brings_every_published_caution(
    wire: Procedure, mild: Conditions
) -> None:
    found = weld_cautions(wire, Steel.MANGANESE, mild)
    clauses = " ".join(caution.clause for caution in found)
    for clause in (
        "1910.133(a)(5)",
        "1910.252(a)(2)(iii)",
        "Table Z-1",
        "1910.1026",
        "1910.95",
        "NFPA 51B",
    ):
        assert clause in clauses
    assert "Local rules come first" in found[0].text
    assert any("shade 10 for welding at 330 A" in caution.text for caution in found)
    assert all("{" not in caution.text for caution in found)


def test_the_torch_is_only_spoken_of_when_there_is_one(
    wire: Procedure, rail_wire: Procedure, mild: Conditions
) -> None:
    def torch(procedure: Procedure, steel: Steel, day: Conditions) -> bool:
        return any("Propane" in caution.text for caution in weld_cautions(procedure, steel, day))

    assert torch(rail_wire, Steel.CARBON, mild)
    assert torch(wire, Steel.MANGANESE, Conditions(5, 5))
    assert not torch(wire, Steel.MANGANESE, mild)


def test_grinding_alone_names_no_arc() -> None:
    texts = " ".join(caution.text for caution in grinding_cautions(Steel.CARBON))
    assert "Hydraulic hoses" in texts
    assert "Fire watch" in texts
    assert "Filter lens" not in texts
