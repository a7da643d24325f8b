"""The rows of rail sections agree with themselves: area, mass and name are separate figures."""

from decimal import Decimal

import pytest

from turnouts.analysis.sections import Section, section_named, sections, sources

STEEL_KG_PER_MM2_M = 7.85e-3
"""7.85 g/cm3 for rail steel (common practice), as kg per m of length for each sq mm."""

KG_PER_M_OF_ONE_LB_PER_YD = 0.45359237 / 0.9144


@pytest.mark.parametrize("section", sections().values(), ids=list(sections()))
def test_area_times_density_gives_the_published_mass(section: Section) -> None:
    by_area = float(section.area_mm2) * STEEL_KG_PER_MM2_M
    assert by_area == pytest.approx(float(section.mass_kg_per_m), rel=0.005)


@pytest.mark.parametrize("section", sections().values(), ids=list(sections()))
def test_the_published_mass_is_about_what_the_name_says(section: Section) -> None:
    amount, unit = section.nominal.split()
    nominal = float(amount) * (KG_PER_M_OF_ONE_LB_PER_YD if unit == "lb/yd" else 1)
    assert float(section.mass_kg_per_m) == pytest.approx(nominal, rel=0.015)


@pytest.mark.parametrize("section", sections().values(), ids=list(sections()))
def test_a_section_is_taller_than_wide_with_a_web_thinner_than_its_head(section: Section) -> None:
    assert section.height_mm > section.base_mm > section.head_mm > section.web_mm
    assert section.head_depth_mm < section.height_mm / 2


@pytest.mark.parametrize(
    ("name", "height", "base", "head", "web", "head_depth"),
    [
        # mm as a public comparison of rail profiles prints them (document 620477792, read)
        ("115RE", "168.28", "139.70", "69.06", "15.88", "42.86"),
        ("136RE", "185.74", "152.40", "74.61", "17.46", "49.21"),
        ("141RE", "188.91", "152.40", "77.79", "17.46", "54.77"),
        ("54E1", "159", "140", "70", "16", "49.4"),
        ("60E1", "172", "150", "72", "16.5", "51"),
        # a dealer's page of AREMA sections (read); head depth from memory
        ("132RE", "180.98", "152.406", "76.20", "16.67", "44.45"),
    ],
)
def test_dimensions_agree_with_a_second_table(name, height, base, head, web, head_depth) -> None:
    section = section_named(name)
    for ours, theirs in (
        (section.height_mm, height),
        (section.base_mm, base),
        (section.head_mm, head),
        (section.web_mm, web),
        (section.head_depth_mm, head_depth),
    ):
        assert abs(ours - Decimal(theirs)) <= Decimal("0.006")


def test_every_row_names_a_source_that_says_how_it_was_checked() -> None:
    assert all(source.checked for source in sources().values())
    used = {s.source.key for s in sections().values()} | {
        s.area_source.key for s in sections().values()
    }
    assert used <= set(sources())


def test_an_unknown_section_is_named_with_the_known_ones() -> None:
    with pytest.raises(KeyError, match=r"99ZZ is not in the table. Known: 115RE, 132RE"):
        section_named("99ZZ")
