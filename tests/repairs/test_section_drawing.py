"""Findings drawn on a section: no name runs out of the sheet, at the letters of a phone."""

import pytest

from repairs.section_drawing import WIDTH, section_drawing

LETTER = 13.0
"""Width of a letter of 25 px, the size on a phone."""


@pytest.mark.parametrize(
    ("quantity", "limit"),
    [  # in mm: 49 CFR 213.137 for the frog, 213.143 for the gages
        ("tread_wear", 9.525),
        ("switch_point_wear", 6.35),
        ("point_wear_depth", 15.875),
        ("flangeway_depth", 38.1),
        ("guard_check_gage", 1381.125),
    ],
)
@pytest.mark.parametrize("beside", [-5, -0.5, 0.5, 5])
def test_every_name_stays_on_the_sheet(quantity: str, limit: float, beside: float) -> None:
    drawing = section_drawing({"quantity": quantity, "measured": limit + beside, "limit": limit})
    assert {"limit", "measured"} <= {one.text for one in drawing.words}
    for one in drawing.words:
        wide = len(one.text) * LETTER
        begins = one.x - {"start": 0, "middle": wide / 2, "end": wide}[one.anchor]
        assert begins >= 0, one
        assert begins + wide <= WIDTH, one
