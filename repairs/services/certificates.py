"""Certificates kept: issued, put right, shown with pictures. Nobody keeps their own."""

import hashlib
from dataclasses import asdict, dataclass
from datetime import date, datetime
from typing import IO, Any

from django.core.files.base import ContentFile
from django.db import IntegrityError, transaction
from django.db.models import Q, QuerySet

from repairs.models import ProofPicture, Qualification
from repairs.services.estimates import GRINDING
from repairs.services.import_sheets import DUTIES, examines_themselves
from repairs.welding.certificates import ProofKind, proofs_asked
from repairs.welding.procedures import all_editions
from turnouts.access import Action, Forbidden, require, territory_ids
from turnouts.models import Person
from turnouts.services.errors import Conflict, Refused, check_version
from turnouts.services.photographs import drawn_anew


@dataclass(frozen=True)
class Words:
    """What a certificate says. Proofs that are not on record yet are None or empty."""

    issued_on: date
    expires_on: date | None
    evidence: str
    plate_on: date | None = None
    plate_examiner: str = ""
    plate_macro_etch: str = ""
    mock_on: date | None = None
    mock_examiner: str = ""
    mock_repair: str = ""
    penetrant_on: date | None = None
    penetrant_examiner: str = ""
    mock_penetrant: str = ""
    written_on: date | None = None
    written_examiner: str = ""
    written_mark_percent: int | None = None


def certifiable() -> tuple[str, ...]:
    """What a certificate may be for: each welding procedure, grinding, the duties in track."""
    return (*all_editions(), GRINDING, *DUTIES)


def words_of(row: Qualification) -> Words:
    """What the certificate says now."""
    return Words(**{name: getattr(row, name) for name in Words.__dataclass_fields__})


def may_certify(by: Person, person: Person) -> bool:
    """An administrator of all territories, and never for themselves."""
    return territory_ids(by, Action.CERTIFY) is None and by.pk != person.pk


def people_seen(reader: Person) -> QuerySet[Person]:
    """Oneself, and whoever holds a role where the reader may see certificates."""
    where = territory_ids(reader, Action.SEE_CERTIFICATES)
    if where is None:
        return Person.objects.all()
    there = Q(grants__territory__in=where)
    if where:
        there |= Q(grants__isnull=False, grants__territory__isnull=True)
    return Person.objects.filter(
        Q(pk=reader.pk) | Q(pk__in=Person.objects.filter(there).values("pk"))
    )


def certificates_seen(reader: Person) -> QuerySet[Qualification]:
    """The certificates of the people the reader sees, by name, the latest first."""
    rows = Qualification.objects.filter(person__in=people_seen(reader).values("pk"))
    return rows.select_related("person").order_by(
        "person__last_name", "person__first_name", "person_id", "procedure", "-issued_on"
    )


@transaction.atomic
def add_certificate(*, by: Person, person: Person, procedure: str, words: Words) -> Qualification:
    """A certificate for a person. It may lack evidence still, and does not count until it is whole.

    Raises Forbidden for one's own, Refused for what cannot be, Conflict where that person has one
    for the procedure of that day already.
    """
    require_certify(by, person)
    if procedure not in certifiable():
        known = ", ".join(certifiable())
        raise Refused(f"There is no procedure or duty {procedure}; choose one of {known}.")
    _check(person, words)
    row = Qualification(person=person, procedure=procedure, **_kept(words))
    return _saved(row)


@transaction.atomic
def change_certificate(
    *, by: Person, certificate: Qualification, words: Words, expected_version: int
) -> Qualification:
    """Put a certificate right; what it said stays in the audit.

    Raises Forbidden for one's own, Conflict when somebody else changed it meanwhile, Refused for
    what cannot be.
    """
    row = Qualification.objects.select_for_update(of=("self",)).get(pk=certificate.pk)
    require_certify(by, row.person)
    check_version(f"The certificate {row}", row.version, expected_version)
    _check(row.person, words)
    if words_of(row) == Words(**_kept(words)):
        return row
    for name, value in _kept(words).items():
        setattr(row, name, value)
    row.version += 1
    return _saved(row)


@transaction.atomic
def add_proof_picture(
    *, by: Person, certificate: Qualification, proof: str, upload: IO[bytes], at: datetime
) -> ProofPicture:
    """Keep a picture of a proof; the same picture again is the one that is there."""
    require_certify(by, certificate.person)
    if proof not in proofs_asked(certificate.procedure):
        raise Refused(f"A certificate for {certificate.procedure} rests on no such proof.")
    content = drawn_anew(upload)
    digest = hashlib.sha256(content).hexdigest()
    # Locked, so that two uploads of one picture at once leave one row and one file.
    Qualification.objects.select_for_update(of=("self",)).get(pk=certificate.pk)
    present = certificate.pictures.filter(proof=proof, sha256=digest).first()
    return present or ProofPicture.objects.create(
        certificate=certificate,
        proof=ProofKind(proof).value,
        image=ContentFile(content, name=f"{digest[:32]}.jpg"),
        sha256=digest,
        added_at=at,
        added_by=by,
    )


def require_certify(by: Person, person: Person) -> None:
    """Raise Forbidden unless ``by`` may keep certificates of the person."""
    require(by, Action.CERTIFY)
    if by.pk == person.pk:
        raise Forbidden("Nobody certifies themselves; ask another administrator.")
    if not may_certify(by, person):
        raise Forbidden(
            "A certificate holds on the whole railway. It takes an administrator of all "
            "territories."
        )


def _check(person: Person, words: Words) -> None:
    """Refuse what cannot be, in the words of the form."""
    if not words.evidence.strip():
        raise Refused("Say in words what the certificate rests on.")
    if words.expires_on is not None and words.expires_on <= words.issued_on:
        raise Refused("A certificate expires after it was issued; correct one of the two days.")
    for kind in ProofKind:
        day = getattr(words, f"{kind.value}_on")
        if day is not None and day > words.issued_on:
            raise Refused(
                f"The {kind.within} is dated after the certificate was issued; correct one "
                "of the two days."
            )
        if examines_themselves(person, getattr(words, f"{kind.value}_examiner")):
            raise Refused(f"{person} cannot be the examiner of their own {kind.within}.")
    if words.mock_on and words.penetrant_on and words.penetrant_on < words.mock_on:
        raise Refused("The mock repair is tested after it is made; correct one of the two days.")
    if words.written_mark_percent is not None and not 0 <= words.written_mark_percent <= 100:
        raise Refused("The mark of the written paper is a percentage, from 0 to 100.")


def _kept(words: Words) -> dict[str, Any]:
    texts = asdict(words)
    return {name: text.strip() if isinstance(text, str) else text for name, text in texts.items()}


def _saved(row: Qualification) -> Qualification:
    try:
        with transaction.atomic():
            row.save()
    except IntegrityError:
        raise Conflict(
            f"{row.person} has a certificate for {row.procedure} issued on "
            f"{row.issued_on:%Y-%m-%d} already; open that one and put it right."
        ) from None
    return row
