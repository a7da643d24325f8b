"""What the pages show, and what a person can change on them."""

from datetime import date, timedelta
from decimal import Decimal

import pytest
from django.test import Client
from django.utils.timezone import localdate

from tests import railway
from turnouts.analysis.terms import Quantity, Role, Zone
from turnouts.models import Person, Turnout

pytestmark = pytest.mark.django_db


def text_of(client: Client, address: str) -> str:
    answer = client.get(address)
    assert answer.status_code == 200, answer.content.decode()[:500]
    return answer.content.decode()


@pytest.mark.parametrize(
    ("role", "first"),
    [(Role.ENGINEER, "/components/"), (Role.ADMINISTRATOR, "/people/")],
)
def test_the_day_begins_at_the_page_of_the_role(client: Client, role: Role, first: str) -> None:
    client.force_login(railway.person(role))
    assert client.get("/").headers["Location"] == first


def test_somebody_without_a_role_is_told_whom_to_ask(client: Client) -> None:
    client.force_login(railway.person())
    answer = client.get("/", follow=True)
    assert answer.redirect_chain == [("/own-settings/", 302)]
    assert "Ask an administrator" in answer.content.decode()


def test_turnouts_are_listed_along_the_line_with_their_open_defects(
    as_engineer: Client, spot: Turnout
) -> None:
    railway.turnout(spot.track, "EARLIER", mile="1")
    railway.spalled_frog(spot)
    railway.spalled_frog(railway.turnout(spot.track, "LATER", mile="9"), state="closed")
    text = text_of(as_engineer, "/turnouts/")
    assert text.index("EARLIER") < text.index(spot.code) < text.index("LATER")
    assert text.count("<strong>1</strong>") == 1


def test_turnouts_are_found_by_line_and_by_text(as_engineer: Client, spot: Turnout) -> None:
    other = railway.turnout(railway.track(railway.line(spot.territory)), access="Past the mill")
    by_line = text_of(as_engineer, f"/turnouts/?line={spot.track.line.code}")
    assert f"/turnouts/{spot.code}/" in by_line
    assert f"/turnouts/{other.code}/" not in by_line
    by_text = text_of(as_engineer, "/turnouts/?q=MILL")
    assert f"/turnouts/{other.code}/" in by_text
    assert f"/turnouts/{spot.code}/" not in by_text


def test_a_long_list_goes_on_over_pages_with_its_filter(as_engineer: Client, spot: Turnout) -> None:
    for number in range(60):
        railway.turnout(spot.track, f"P-{number:02}", mile="7")
    text = text_of(as_engineer, "/turnouts/?q=P-")
    assert "Page 1 of 2" in text
    assert "?q=P-&amp;page=2" in text
    assert "P-59" in text_of(as_engineer, "/turnouts/?q=P-&page=2")


def test_a_turnout_shows_place_angle_class_and_traffic(as_engineer: Client, spot: Turnout) -> None:
    railway.track_class(spot.track, 4)
    text = text_of(as_engineer, f"/turnouts/{spot.code}/")
    # A No. 10 frog is 5 deg 43 min 29 s by N = 1/2 cot(theta/2): NMRA RP-12.7 gives 5 deg 43 min
    assert "No. 10, angle 5° 43\N{PRIME} 29\N{DOUBLE PRIME}" in text
    assert "40 mph" in text
    assert "4, since 2020-01-01" in text
    assert "faces trains towards rising mileposts" in text


@pytest.mark.parametrize("since", [0, 1])
def test_a_class_of_track_holds_from_its_first_day(
    as_engineer: Client, spot: Turnout, since: int
) -> None:
    today = localdate()
    railway.track_class(spot.track, 3, since=today + timedelta(days=since))
    expected = f"3, since {today}" if since == 0 else "not noted here"
    assert expected in text_of(as_engineer, f"/turnouts/{spot.code}/")


def test_speeds_and_lengths_read_in_the_units_of_the_person(
    as_engineer: Client, engineer: Person, spot: Turnout
) -> None:
    railway.spalled_frog(spot, length_mm=Decimal("15.875"))
    assert "5/8 in" in text_of(as_engineer, f"/turnouts/{spot.code}/")
    answer = as_engineer.post(
        "/own-settings/",
        {"length": "mm", "speed": "km/h", "temperature": "degC", "mass": "kg"},
    )
    assert answer.status_code == 302
    text = text_of(as_engineer, f"/turnouts/{spot.code}/")
    assert "15.875 mm" in text
    assert "64 km/h" in text  # 64.37 km/h, and a speed is never rounded up


def test_a_turnout_shows_who_stands_where_now_and_who_stood_there(
    as_engineer: Client, spot: Turnout
) -> None:
    old, new = railway.component(), railway.component()
    railway.install(old, spot, removed_on=date(2023, 1, 1), reason_removed="Broken wing")
    railway.install(new, spot, installed_on=date(2023, 1, 1))
    text = text_of(as_engineer, f"/turnouts/{spot.code}/")
    assert text.index(new.serial) < text.index(old.serial)
    assert "Broken wing" in text


def test_the_newest_inspection_stands_first(as_engineer: Client, spot: Turnout) -> None:
    for day in range(7):
        railway.inspection(
            spot, reference=f"VISIT-{day}", inspected_at=railway.VISIT + timedelta(days=day)
        )
    text = text_of(as_engineer, f"/turnouts/{spot.code}/")
    assert text.index("VISIT-6") < text.index("VISIT-2")
    assert "VISIT-1" not in text


def test_a_component_shows_its_places_tonnage_and_repeats(
    as_engineer: Client, spot: Turnout
) -> None:
    frog = railway.component()
    railway.install(
        frog, spot, removed_on=date(2024, 1, 1), mgt_at_removal=48, reason_removed="To the shop"
    )
    visit = railway.inspection(spot)
    for zone in (Zone.TREAD, Zone.TREAD, Zone.POINT):
        railway.defect(frog, visit, zone=zone.value)
    text = text_of(as_engineer, f"/components/{frog.serial}/")
    assert "48.0" in text
    assert '<th scope="row">Tread</th><td class="num"><strong>2</strong>' in text
    assert "Not in track." in text


def test_the_history_of_a_component_goes_with_it_but_links_only_where_one_may_look(
    client: Client,
) -> None:
    here, there = railway.turnout(), railway.turnout()
    frog = railway.component()
    railway.install(frog, there, removed_on=date(2023, 1, 1))
    railway.install(frog, here, installed_on=date(2023, 2, 1))
    client.force_login(railway.person("engineer", here.territory))
    text = text_of(client, f"/components/{frog.serial}/")
    assert f"Put in at {there.code}" in text
    assert f'href="/turnouts/{here.code}/"' in text
    assert f'href="/turnouts/{there.code}/"' not in text


def test_readings_over_time_are_drawn_and_listed(as_engineer: Client, spot: Turnout) -> None:
    frog = railway.component()
    railway.install(frog, spot)
    for day, value in enumerate(("3.175", "6.35")):
        visit = railway.inspection(spot, inspected_at=railway.VISIT + timedelta(days=day * 90))
        railway.measurement(visit, Quantity.TREAD_WEAR, value, frog)
    text = text_of(as_engineer, f"/components/{frog.serial}/")
    assert 'aria-label="Tread wear against time, 2 readings' in text
    assert "1/8 in" in text
    assert "1/4 in" in text


def test_one_reading_is_no_picture(as_engineer: Client, spot: Turnout) -> None:
    frog = railway.component()
    railway.install(frog, spot)
    railway.measurement(railway.inspection(spot), Quantity.TREAD_WEAR, "3", frog)
    assert "against time" not in text_of(as_engineer, f"/components/{frog.serial}/")


def test_components_with_most_defects_come_first_when_asked(
    as_engineer: Client, spot: Turnout
) -> None:
    seldom, often = railway.component(serial="A-1"), railway.component(serial="B-2")
    railway.install(seldom, spot, removed_on=date(2022, 1, 1))
    railway.install(often, spot, installed_on=date(2022, 1, 1))
    visit = railway.inspection(spot)
    for _ in range(2):
        railway.defect(often, visit)
    text = text_of(as_engineer, "/components/?order=defects")
    assert text.index("B-2") < text.index("A-1")


def test_an_engineer_puts_a_component_in_and_takes_it_out(
    as_engineer: Client, spot: Turnout
) -> None:
    frog = railway.component()
    given = {"serial": frog.serial, "position": "frog", "installed_on": "2024-01-01"}
    answer = as_engineer.post(f"/turnouts/{spot.code}/install/", given, follow=True)
    assert f"{frog.serial} stands at {spot.code}, frog." in answer.content.decode()
    frog.refresh_from_db()
    out = {"removed_on": "2025-01-01", "reason": "Worn", "version": frog.version}
    answer = as_engineer.post(f"/components/{frog.serial}/remove/", out, follow=True)
    assert "was taken out of" in answer.content.decode()


def test_a_refused_change_stands_over_the_form_with_all_that_was_typed(
    as_engineer: Client, spot: Turnout
) -> None:
    railway.install(railway.component(), spot)
    frog = railway.component()
    given = {"serial": frog.serial, "position": "frog", "installed_on": "2024-01-01"}
    answer = as_engineer.post(f"/turnouts/{spot.code}/install/", given)
    assert answer.status_code == 409
    text = answer.content.decode()
    assert "Another component stands in" in text
    assert f'value="{frog.serial}"' in text


def test_a_turnout_changed_meanwhile_is_refused_on_the_page(
    as_engineer: Client, spot: Turnout
) -> None:
    text = text_of(as_engineer, f"/turnouts/{spot.code}/change/")
    assert 'name="version" value="1"' in text
    given = {
        "milepost": "5",
        "hand": "left",
        "frog_number": "12",
        "rail_section": "136RE",
        "faces": "increasing",
        "speed_through_kmh": "50 mph",
        "speed_diverging_kmh": "15",
        "access": "",
        "version": "1",
    }
    address = f"/turnouts/{spot.code}/change/"
    assert as_engineer.post(address, given).status_code == 302
    spot.refresh_from_db()
    assert spot.speed_through_kmh == Decimal("80.4672")  # 50 miles of 1.609344 km
    again = as_engineer.post(address, given)
    assert again.status_code == 409
    assert "changed by somebody else" in again.content.decode()


def test_a_new_person_is_added_with_a_password_that_is_hard_to_guess(client: Client) -> None:
    client.force_login(railway.person("administrator"))
    given = {"username": "new", "password": "password"}
    refused = client.post("/people/", given)
    assert refused.status_code == 400
    assert "too common" in refused.content.decode()
    assert not Person.objects.filter(username="new").exists()
    assert client.post("/people/", given | {"password": "frog-and-throat-7"}).status_code == 302
    assert Person.objects.get(username="new").check_password("frog-and-throat-7")


def test_a_password_is_changed_on_its_page(as_engineer: Client, engineer: Person) -> None:
    engineer.set_password("old-and-worn-out-9")
    engineer.save()
    as_engineer.force_login(engineer)
    given = {
        "old_password": "old-and-worn-out-9",
        "new_password1": "newly-profiled-8",
        "new_password2": "newly-profiled-8",
    }
    answer = as_engineer.post("/own-settings/password/", given, follow=True)
    assert "The password was changed." in answer.content.decode()
    engineer.refresh_from_db()
    assert engineer.check_password("newly-profiled-8")
