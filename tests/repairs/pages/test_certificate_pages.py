"""Pages and API of certificates: who sees and keeps which, with what answer."""

from datetime import timedelta
from io import BytesIO

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from django.utils import timezone
from PIL import Image

from repairs.models import ProofPicture, Qualification
from tests import railway
from tests.certificates import certificate, proofs
from turnouts.models import Person

pytestmark = pytest.mark.django_db

ROLES = ("welder", "inspector", "supervisor", "engineer", "administrator")


@pytest.fixture
def held() -> Qualification:
    person = railway.person("welder", railway.territory())
    today = timezone.localdate()
    return certificate(
        person, "manganese-wire", today - timedelta(days=30), today + timedelta(days=300)
    )


def client_of(person: Person) -> Client:
    client = Client()
    client.force_login(person)
    return client


def posted(row: Qualification, **values: object) -> dict[str, object]:
    """What the form sends of a certificate as it stands."""
    given = {"issued_on": row.issued_on, "expires_on": row.expires_on, "evidence": row.evidence}
    return given | proofs(row.issued_on) | {"version": row.version} | values


def picture() -> SimpleUploadedFile:
    kept = BytesIO()
    Image.new("RGB", (32, 20), "slategray").save(kept, "PNG")
    return SimpleUploadedFile("plate.png", kept.getvalue(), "image/png")


@pytest.mark.parametrize("role", ROLES)
@pytest.mark.parametrize("there", [True, False])
def test_others_certificates_are_seen_by_supervisor_engineer_and_administrator_of_the_territory(
    held: Qualification, role: str, there: bool
) -> None:
    here = held.person.grants.get().territory
    client = client_of(railway.person(role, here if there else railway.territory()))
    sees = there and role in ("supervisor", "engineer", "administrator")
    expected = 200 if sees else 404
    assert client.get(reverse("certificate", args=[held.pk])).status_code == expected
    of = reverse("certificates-of", args=[held.person.username])
    assert client.get(of).status_code == expected
    assert client.get(f"/api/certificates/{held.pk}/").status_code == expected
    assert len(client.get("/api/certificates/").json()["results"]) == int(sees)
    assert (str(held.person) in client.get("/certificates/").content.decode()) is sees


def test_a_welder_sees_their_own_and_keeps_none(held: Qualification) -> None:
    client = client_of(held.person)
    assert "Valid." in client.get(reverse("certificate", args=[held.pk])).content.decode()
    address = reverse("certificate-change", args=[held.pk])
    assert client.get(address).status_code == 403
    assert client.post(address, posted(held, evidence="Mine")).status_code == 403
    told = client.patch(
        f"/api/certificates/{held.pk}/",
        {"version": 1, "evidence": "Mine"},
        content_type="application/json",
    )
    assert told.status_code == 403
    held.refresh_from_db()
    assert held.evidence != "Mine"


@pytest.mark.parametrize("role", ["supervisor", "engineer"])
def test_who_sees_all_the_same_keeps_none(held: Qualification, role: str) -> None:
    client = client_of(railway.person(role))
    assert client.get(reverse("certificate", args=[held.pk])).status_code == 200
    address = reverse("certificate-new", args=[held.person.username]) + "?procedure=lookout"
    assert client.get(address).status_code == 403
    upload = {"proof": "plate", "picture": picture()}
    add = reverse("certificate-picture-add", args=[held.pk])
    assert client.post(add, upload).status_code == 403
    assert not ProofPicture.objects.exists()


def test_nobody_without_a_login_sees_any(held: Qualification) -> None:
    for address in ("/certificates/", f"/certificates/{held.pk}/"):
        assert Client().get(address).status_code == 302
    assert Client().get("/api/certificates/").status_code in (401, 403)


def test_a_certificate_is_renewed_and_what_is_missing_is_said(held: Qualification) -> None:
    client = client_of(railway.person("administrator"))
    today = timezone.localdate()
    address = reverse("certificate-new", args=[held.person.username])
    given = {"issued_on": today, "expires_on": "", "evidence": "Examined again"} | proofs(today)
    given |= {"penetrant_on": "", "penetrant_examiner": "", "mock_penetrant": ""}
    shown = client.post(f"{address}?procedure=manganese-wire", given, follow=True).content.decode()
    assert "Not valid: the penetrant test of the mock repair is missing." in shown
    assert Qualification.objects.filter(person=held.person).count() == 2
    again = client.post(f"{address}?procedure=manganese-wire", given)
    assert again.status_code == 409
    assert "open that one and put it right" in again.content.decode()
    assert client.get(f"{address}?procedure=guesswork").status_code == 400


@pytest.mark.parametrize(
    "values",
    [
        {"written_mark_percent": "-1"},
        {"written_mark_percent": "101"},
        {"written_mark_percent": "good"},
        {"issued_on": ""},
        {"issued_on": "soon"},
        {"evidence": ""},
        {"evidence": "x" * 201},
        {"plate_examiner": "x" * 121},
        {"expires_on": "1999-01-01"},
        {"plate_on": "2999-01-01"},
    ],
)
def test_wrong_input_is_answered_beside_what_was_typed(
    held: Qualification, values: dict[str, str]
) -> None:
    client = client_of(railway.person("administrator"))
    address = reverse("certificate-change", args=[held.pk])
    answer = client.post(address, posted(held, **values))
    assert answer.status_code == 400
    assert b"errorlist" in answer.content or b"fault" in answer.content
    held.refresh_from_db()
    assert held.version == 1


def test_the_second_of_two_tabs_is_told(held: Qualification) -> None:
    client = client_of(railway.person("administrator"))
    address = reverse("certificate-change", args=[held.pk])
    assert client.post(address, posted(held, evidence="First")).status_code == 302
    second = client.post(address, posted(held, evidence="Second"))
    assert second.status_code == 409
    assert "changed by somebody else" in second.content.decode()
    held.refresh_from_db()
    assert held.evidence == "First"
    shown = client.get(reverse("certificate", args=[held.pk])).content.decode()
    assert "now First" in shown


def test_a_picture_is_kept_and_shown_to_those_who_see_the_certificate(held: Qualification) -> None:
    keeper = railway.person("administrator")
    add = reverse("certificate-picture-add", args=[held.pk])
    given = {"proof": "plate", "picture": picture()}
    assert client_of(keeper).post(add, given).status_code == 302
    kept = ProofPicture.objects.get()
    address = reverse("certificate-picture", args=[kept.pk])
    shown = client_of(held.person).get(address)
    assert (shown.status_code, shown["Content-Type"]) == (200, "image/jpeg")
    stranger = railway.person("supervisor", railway.territory())
    assert client_of(stranger).get(address).status_code == 404
    wrong = SimpleUploadedFile("plate.png", b"<svg onload=alert(1)>", "image/png")
    answer = client_of(keeper).post(add, {"proof": "plate", "picture": wrong})
    assert answer.status_code == 400
    assert client_of(keeper).post(add, {"proof": "plate"}).status_code == 400


def test_the_api_adds_puts_right_and_refuses_what_moved_on(held: Qualification) -> None:
    client = client_of(railway.person("administrator"))
    given = {"username": held.person.username, "procedure": "lookout", "issued_on": "2026-01-04"}
    new = client.post(
        "/api/certificates/", given | {"evidence": "Day"}, content_type="application/json"
    )
    assert (new.status_code, new.json()["version"]) == (201, 1)
    one = f"/api/certificates/{held.pk}/"
    for version, status in ((1, 200), (1, 409), (None, 400)):
        said = {"evidence": f"As of {status}"} | ({"version": version} if version else {})
        assert client.patch(one, said, content_type="application/json").status_code == status
    wrong = {"version": 2, "mock_repair": ""}
    told = client.patch(one, wrong, content_type="application/json").json()
    assert told["valid"] is False
    assert told["stands"] == "Not valid: the mock repair has no result."
    sent = client.post(f"{one}pictures/", {"proof": "plate", "picture": picture()})
    assert (sent.status_code, sent.json()["proof"]) == (201, "plate")


@pytest.mark.parametrize("name", ["certificates", "certificates-of", "certificate"])
def test_pages_take_the_same_queries_however_many(held: Qualification, name: str) -> None:
    client = client_of(railway.person("administrator"))
    argument = {"certificates-of": held.person.username, "certificate": held.pk}.get(name)
    address = reverse(name, args=[argument] if argument else [])
    client.get(address)  # from here on the audit knows who changes something
    counts = []
    for more in (1, 6):
        for number in range(more):
            day = held.issued_on - timedelta(days=10 * more + number)
            certificate(held.person, "carbon-wire", day, None)
            other = railway.person("welder", held.person.grants.get().territory)
            certificate(other, "lookout", day, None)
            held.evidence = f"{more} {number}"
            held.save()
        client.get(address)
        with CaptureQueriesContext(connection) as asked:
            assert client.get(address).status_code == 200
        counts.append(len(asked))
    assert counts[0] == counts[1]


@pytest.mark.parametrize("role", ["inspector", "welder", "supervisor", "engineer", "administrator"])
def test_everybody_with_a_role_reaches_their_own_certificates_from_their_settings(
    role: str,
) -> None:
    person = railway.person(role, railway.territory())
    asked = Client()
    asked.force_login(person)
    assert 'href="/certificates/">Your certificates' in asked.get("/own-settings/").content.decode()
    assert asked.get("/certificates/").status_code == 200
