"""Rows that cannot be true: each is refused with its sheet, row and column, and a sentence."""

import pytest

from tests.turnouts.sheets import (
    RAILWAY,
    bring_in,
    only,
    sole_fault,
)
from turnouts.models import Person

pytestmark = pytest.mark.django_db


@pytest.mark.usefixtures("railway_is_in")
@pytest.mark.parametrize(
    ("sheet", "text", "column", "says"),
    [
        (
            "installations",
            "serial,turnout,position,installed_on,removed_on\nF1,T1,frog,2021-01-01,\n",
            "position",
            "A position holds one component at a time. It overlaps a record kept already, "
            "from 2020-02-01 without an end.",
        ),
        (
            "installations",
            "serial,turnout,position,installed_on\nF2,T1,heel_plate,2023-01-01\n",
            "position",
            "Position heel_plate holds a plate, but F2 is a frog.",
        ),
        (
            "installations",
            "serial,turnout,position,installed_on,removed_on\nF1,T1,frog,2014-01-01,2013-01-01\n",
            "removed_on",
            "A component is removed after it was installed.",
        ),
        (
            "installations",
            "serial,turnout,position,installed_on,removed_on\nF1,T1,frog,2014-01-01,2014-02-01\n",
            "installed_on",
            "is known from 2015-01-01 only",
        ),
        (
            "track_classes",
            "line,track,from_milepost,to_milepost,class,since\nL1,Main,1,2,3,2021-01-01\n",
            "class",
            "A place has one class of track at a time.",
        ),
        (
            "track_classes",
            "line,track,from_milepost,to_milepost,class,since\nL1,Yard,2,1,3,2021-01-01\n",
            "to_milepost",
            "its end comes after its start",
        ),
        (
            "track_classes",
            "line,track,from_milepost,to_milepost,class,since\nL1,Yard,0,2,6,2021-01-01\n",
            "",
            'by the rule "class is 0 to 5"',
        ),
        (
            "mileposts",
            "line,reading,chainage [m]\nL1,1.5,1000\n",
            "chainage",
            "behind post 1.000",
        ),
        (
            "turnouts",
            RAILWAY["turnouts"].replace("1.25", "9.5").replace("T1", "T2"),
            "milepost",
            "outside this line, which runs from 0.000 to 2.000 mi",
        ),
        (
            "turnouts",
            RAILWAY["turnouts"].replace("right,10", "right,99"),
            "frog_number",
            "Frog number 99.00 is not between 2 and 40.",
        ),
        (
            "components",
            "serial,kind,design\nG9,guard_rail,spring\n",
            "design",
            "Only a frog has a frog design",
        ),
        (
            "inspections",
            "reference,turnout,inspected_at,kind,inspector\nI2,T1,2026-03-01T09:30,detailed,zoe\n",
            "inspector",
            'There is no person "zoe"',
        ),
        (
            "measurements",
            "inspection,position,quantity,route,behind_point [in],value [in],hardness [HBW]\n"
            "I1,frog,hardness,,1,5/8,340\n",
            "value",
            "hardness is given in column hardness; empty this cell.",
        ),
        (
            "measurements",
            "inspection,position,quantity,route,behind_point [in],value [in]\n"
            "I1,frog,tread_wear,,1,\n",
            "value",
            "tread_wear needs its value in this column.",
        ),
        (
            "measurements",
            "inspection,position,quantity,route,behind_point [in],value [in]\n"
            "I1,heel_plate,tread_wear,,1,5/8\n",
            "position",
            "No component stood at the heel plate of T1 on 2026-03-01.",
        ),
        (
            "defects",
            "reference,inspection,position,component,kind,zone\nD2,I1,frog,F1,spall,point\n",
            "component",
            "Component F1 did not stand at the frog of T1 on 2026-03-01; F2 did.",
        ),
        (
            "defects",
            "reference,inspection,position,kind,zone,reported_on\nD2,I1,frog,spall,point,2026-02-28\n",
            "reported_on",
            "It was found on 2026-03-01 and cannot be reported before.",
        ),
        (
            "defect_steps",
            "defect,state,at,by\nD1,proved,2026-03-04T08:00,ada\n",
            "state",
            "A defect that is planned cannot become proved; from here it can become",
        ),
        (
            "defect_steps",
            "defect,state,at,by\nD1,in_work,2026-03-01T10:00,ada\n",
            "at",
            "The step before it was taken later",
        ),
        (
            "defect_steps",
            "defect,state,at,by,note\nD1,planned,2026-03-03T08:00,ada,Another note\n",
            "",
            "is written once",
        ),
        (
            "components",
            "serial,kind\nF7,frog\nF7,frog\n",
            "serial",
            "Row 2 has the same serial already; keep one of the two.",
        ),
        ("lines", "code,name,territory,milepost_unit\nL2,,N,mi\n", "name", "must not be empty"),
        ("lines", "code,name,territory,milepost_unit\nL2,Two,N,mi,5\n", "", "the header names 4"),
        (
            "people",
            "username,email\nbo,not an address\n",
            "email",
            "Enter a valid email address.",
        ),
    ],
)
def test_a_row_that_cannot_be_true_is_refused_with_a_sentence(
    by: Person, sheet: str, text: str, column: str, says: str
) -> None:
    fault = sole_fault(bring_in(by, only(**{sheet: text})))

    assert (fault.sheet, fault.column) == (sheet, column)
    assert says in fault.sentence
