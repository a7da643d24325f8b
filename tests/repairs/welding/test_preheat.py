"""Carbon equivalents and preheat formulas, on published figures and at their limits."""

import pytest

from repairs.welding.preheat import (
    Composition,
    ce_iiw,
    cet,
    preheat_advice,
    preheat_cet_degc,
    preheat_seferian_degc,
)
from repairs.welding.refusals import OutsideValidity
from turnouts.analysis.terms import Steel

R260_MIDDLE = Composition(carbon=0.71, manganese=0.95)
MANGANESE_CASTING = Composition(carbon=1.15, manganese=12.5)


def test_carbon_equivalent_of_the_published_example() -> None:
    # Published worked example, "about 0.46": 0.18 C 1.20 Mn 0.20 Cr 0.10 Mo 0.15 Ni 0.20 Cu.
    steel = Composition(0.18, 1.20, 0.20, 0.10, nickel=0.15, copper=0.20)
    assert ce_iiw(steel) == pytest.approx(0.463, abs=0.0005)


def test_seferian_preheat_of_grade_r260_rail() -> None:
    # Formula from memory; R260 composition from a public table, 30 mm: 290 degC by hand.
    assert preheat_seferian_degc(R260_MIDDLE, 30) == pytest.approx(290, abs=0.5)


def test_method_b_refuses_rail_steel() -> None:
    # EN 1011-2 method B holds for CET 0.2 to 0.5 (range from memory); R260 lies at 0.805.
    assert cet(R260_MIDDLE) == pytest.approx(0.805)
    with pytest.raises(OutsideValidity, match=r"CET 0\.805 is outside 0\.2 to 0\.5"):
        preheat_cet_degc(R260_MIDDLE, 40, 5, 1)


def test_method_b_answers_on_its_limit_and_not_past_it() -> None:
    # By hand at CET 0.5, 40 mm, hydrogen 5, 1 kJ/mm: 348.5 + 130.5 + 108.9 - 5.5 - 328 = 254.4.
    assert preheat_cet_degc(Composition(0.5), 40, 5, 1) == pytest.approx(254.4, abs=0.05)
    with pytest.raises(OutsideValidity):
        preheat_cet_degc(Composition(0.501), 40, 5, 1)


@pytest.mark.parametrize(
    ("thickness", "hydrogen", "heat"), [(9.9, 5, 1), (91, 5, 1), (40, 0.9, 1), (40, 5, 4.1)]
)
def test_method_b_refuses_each_value_outside_its_range(
    thickness: float, hydrogen: float, heat: float
) -> None:
    with pytest.raises(OutsideValidity, match="EN 1011-2 method B"):
        preheat_cet_degc(Composition(0.3), thickness, hydrogen, heat)


def test_no_formula_speaks_of_manganese_steel() -> None:
    for formula in (ce_iiw, cet, lambda steel: preheat_seferian_degc(steel, 30)):
        with pytest.raises(OutsideValidity, match="austenitic"):
            formula(MANGANESE_CASTING)
    assert preheat_advice(Steel.MANGANESE, 10) == ()


def test_seferian_refuses_a_steel_it_asks_no_preheat_of() -> None:
    with pytest.raises(OutsideValidity, match="no preheat is called for"):
        preheat_seferian_degc(Composition(0.10, 0.50), 10)


def test_advice_for_rail_sets_formula_and_refusal_beside_the_procedure() -> None:
    shown, refused = preheat_advice(Steel.CARBON, 260)
    # AREMA middle, 0.80 C and 1.00 Mn: carbon equivalent 0.967.
    assert "260 degC" in shown
    assert "0.97 by IIW" in shown
    assert "outside 0.2 to 0.5" in refused
