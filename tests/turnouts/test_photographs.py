"""Photographs: really opened, drawn anew, kept once, shown only to those who may see the defect."""

import hashlib
import zlib
from io import BytesIO
from pathlib import Path
from struct import pack
from typing import Any

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.test import Client
from PIL import Image

from tests import railway
from turnouts.access import Forbidden
from turnouts.models import Defect, Person, Photograph
from turnouts.services import photographs
from turnouts.services.errors import Refused
from turnouts.services.photographs import add_photograph, drawn_anew

pytestmark = pytest.mark.usefixtures("kept_files")

GPS, LATITUDE, ORIENTATION, TURNED_RIGHT = 0x8825, 2, 0x0112, 6


@pytest.fixture
def defect(db: None) -> Defect:
    return railway.spalled_frog()


@pytest.fixture
def inspector(defect: Defect) -> Person:
    return railway.person("inspector", defect.turnout.territory)


def picture(kind: str = "JPEG", size: tuple[int, int] = (40, 20), **options: Any) -> BytesIO:
    held = BytesIO()
    Image.new("RGB", size, (120, 80, 40)).save(held, kind, **options)
    return held


def with_place() -> BytesIO:
    exif = Image.Exif()
    exif.get_ifd(GPS)[LATITUDE] = (51.0, 30.0, 0.0)
    exif[ORIENTATION] = TURNED_RIGHT
    return picture(exif=exif, comment=b"kept by the telephone")


def add(by: Person, to: Defect, upload: BytesIO) -> Photograph:
    return add_photograph(by=by, defect=to, upload=upload, caption="Spall from the heel side")


def test_place_and_everything_but_the_pixels_is_taken_out() -> None:
    given = with_place()
    assert LATITUDE in Image.open(given).getexif().get_ifd(GPS)
    kept = drawn_anew(given)
    read = Image.open(BytesIO(kept))
    assert not read.getexif()
    assert "comment" not in read.info
    assert b"telephone" not in kept


def test_a_picture_taken_sideways_is_kept_upright() -> None:
    assert Image.open(BytesIO(drawn_anew(with_place()))).size == (20, 40)


@pytest.mark.parametrize("kind", ["JPEG", "PNG", "WEBP"])
def test_the_usual_kinds_are_taken_and_kept_as_jpeg(kind: str) -> None:
    assert Image.open(BytesIO(drawn_anew(picture(kind)))).format == "JPEG"


def test_a_picture_with_clear_parts_is_taken() -> None:
    held = BytesIO()
    Image.new("LA", (8, 8)).save(held, "PNG")
    assert Image.open(BytesIO(drawn_anew(held))).mode == "RGB"


def test_a_large_picture_is_made_smaller() -> None:
    kept = Image.open(BytesIO(drawn_anew(picture(size=(4000, 1000)))))
    assert kept.size == (photographs.LONGEST_SIDE_PX, 640)


@pytest.mark.parametrize(
    "content",
    [
        b"",
        b"<svg xmlns='http://www.w3.org/2000/svg'><script>alert(1)</script></svg>",
        b"\xff\xd8\xff\xe0 and no more",
        picture("GIF").getvalue(),
        picture("JPEG").getvalue()[:200],
    ],
    ids=["nothing", "svg", "only the first bytes", "gif", "cut off"],
)
def test_what_is_no_photograph_is_refused_in_a_sentence(content: bytes) -> None:
    with pytest.raises(Refused, match="cannot be opened as a picture"):
        drawn_anew(BytesIO(content))


def test_a_file_that_is_too_large_is_refused_before_it_is_opened() -> None:
    with pytest.raises(Refused, match="larger than 15 MB"):
        drawn_anew(BytesIO(bytes(photographs.LARGEST_FILE_BYTES + 1)))


def huge_png(width: int, height: int) -> BytesIO:
    """A PNG of a few hundred bytes that says it has very many pixels."""

    def part(name: bytes, held: bytes) -> bytes:
        return pack(">I", len(held)) + name + held + pack(">I", zlib.crc32(name + held))

    head = pack(">IIBBBBB", width, height, 8, 0, 0, 0, 0)
    body = zlib.compress(bytes(1000))
    return BytesIO(
        b"\x89PNG\r\n\x1a\n" + part(b"IHDR", head) + part(b"IDAT", body) + part(b"IEND", b"")
    )


@pytest.mark.parametrize("size", [(60_001, 1_000), (60_000, 60_000)])
def test_a_picture_that_would_fill_the_memory_is_refused(size: tuple[int, int]) -> None:
    with pytest.raises(Refused, match="million pixels"):
        drawn_anew(huge_png(*size))


def test_the_same_picture_twice_is_kept_once(
    inspector: Person, defect: Defect, kept_files: Path
) -> None:
    first = add(inspector, defect, picture())
    assert add(inspector, defect, picture()) == first
    assert len([path for path in kept_files.rglob("*") if path.is_file()]) == 1


def test_the_kept_digest_is_that_of_the_kept_file(inspector: Person, defect: Defect) -> None:
    row = add(inspector, defect, picture())
    assert hashlib.sha256(row.image.read()).hexdigest() == row.sha256
    assert (row.width_px, row.height_px) == (40, 20)


def test_a_welder_adds_no_photograph(defect: Defect) -> None:
    with pytest.raises(Forbidden):
        add(railway.person("welder", defect.turnout.territory), defect, picture())


def test_a_photograph_is_shown_to_those_who_may_see_the_defect(
    client: Client, inspector: Person, defect: Defect
) -> None:
    row = add(inspector, defect, picture())
    client.force_login(railway.person("welder", defect.turnout.territory))
    answer = client.get(f"/photographs/{row.pk}/")
    assert answer.status_code == 200
    assert answer["Content-Type"] == "image/jpeg"
    assert answer["X-Content-Type-Options"] == "nosniff"
    assert answer["Cache-Control"].startswith("private")
    assert Image.open(BytesIO(b"".join(answer.streaming_content))).size == (40, 20)


def test_a_photograph_of_another_territory_does_not_exist(
    client: Client, inspector: Person, defect: Defect
) -> None:
    row = add(inspector, defect, picture())
    client.force_login(railway.person("engineer", railway.territory()))
    assert client.get(f"/photographs/{row.pk}/").status_code == 404


def test_a_photograph_is_added_on_the_page_of_the_defect(
    client: Client, inspector: Person, defect: Defect
) -> None:
    client.force_login(inspector)
    upload = SimpleUploadedFile("p.jpg", picture().getvalue(), "image/jpeg")
    address = f"/defects/{defect.reference}/photographs/"
    answer = client.post(address, {"picture": upload, "caption": "Spall"}, follow=True)
    assert "Photograph kept" in answer.content.decode()
    assert defect.photographs.get().caption == "Spall"


def test_a_bad_file_is_said_beside_the_field_and_the_caption_stays(
    client: Client, inspector: Person, defect: Defect
) -> None:
    client.force_login(inspector)
    upload = SimpleUploadedFile("p.jpg", b"not a picture", "image/jpeg")
    address = f"/defects/{defect.reference}/photographs/"
    answer = client.post(address, {"picture": upload, "caption": "Spall at the heel"})
    assert answer.status_code == 400
    assert "cannot be opened as a picture" in answer.content.decode()
    assert "Spall at the heel" in answer.content.decode()
