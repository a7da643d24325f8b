"""Certificates: who holds what, on what evidence; and, for administrators, keeping them."""

from typing import Any

from django import forms
from django.contrib import messages
from django.http import FileResponse, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.views.decorators.http import require_POST

from repairs.models import ProofPicture, Qualification
from repairs.pages.certificate_forms import (
    CertificateForm,
    ChangeForm,
    PictureForm,
    procedure_choices,
)
from repairs.services.certificate_changes import changes_of
from repairs.services.certificates import (
    add_certificate,
    add_proof_picture,
    certifiable,
    certificates_seen,
    change_certificate,
    may_certify,
    people_seen,
    require_certify,
    words_of,
)
from turnouts.access import Action
from turnouts.models import Person
from turnouts.pages.asking import Asked, form_status, one_page, page, refusals_in
from turnouts.services.errors import Refused


@page(Action.SEE)
def certificates(request: Asked) -> HttpResponse:
    """One's own, and those of the people one may see."""
    rows = one_page(request, certificates_seen(request.user))
    context: dict[str, Any] = {"page": rows, "on": timezone.localdate()}
    return render(request, "repairs/certificates.html", context | _stand(rows.object_list))


@page(Action.SEE)
def of_person(request: Asked, username: str) -> HttpResponse:
    """All that one person holds or held."""
    person = _person(request, username)
    rows = certificates_seen(request.user).filter(person=person)
    context = {
        "whose": person,
        "on": timezone.localdate(),
        "procedures": procedure_choices(),
        "may_certify": may_certify(request.user, person),
    }
    return render(request, "repairs/certificates_of.html", context | _stand(rows))


@page(Action.SEE)
def certificate(request: Asked, pk: int) -> HttpResponse:
    """One certificate: its days, its proofs with their pictures, and what was changed."""
    row = _row(request, pk)
    pictures = list(row.pictures.select_related("added_by"))
    context = {
        "row": row,
        "stands": row.said_on(timezone.localdate()),
        "proofs": [(proof, [p for p in pictures if p.proof == proof.kind]) for proof in row.proofs],
        "changes": changes_of(row),
        "may_certify": may_certify(request.user, row.person),
        "form": PictureForm(procedure=row.procedure),
    }
    return render(request, "repairs/certificate.html", context)


@page(Action.CERTIFY)
def new(request: Asked, username: str) -> HttpResponse:
    """A new certificate of a person; the one before it stays."""
    person = _person(request, username)
    require_certify(request.user, person)
    procedure = request.GET.get("procedure", "")
    if procedure not in certifiable():
        raise Refused(f"There is no procedure or duty {procedure}; choose one from the list.")
    form = CertificateForm(request.POST or None, procedure=procedure, label_suffix="")
    if form.is_valid():
        with refusals_in(form):
            row = add_certificate(
                by=request.user, person=person, procedure=procedure, words=form.words()
            )
            return _done(request, row)
    return _asked(request, form, person, procedure)


@page(Action.CERTIFY)
def change(request: Asked, pk: int) -> HttpResponse:
    """Put a certificate right, under the version that was open."""
    row = _row(request, pk)
    require_certify(request.user, row.person)
    form = ChangeForm(request.POST or None, row=row, said=words_of(row), label_suffix="")
    if form.is_valid():
        with refusals_in(form):
            changed = change_certificate(
                by=request.user,
                certificate=row,
                words=form.words(),
                expected_version=form.cleaned_data["version"],
            )
            return _done(request, changed)
    return _asked(request, form, row.person, row.procedure, row)


@require_POST
@page(Action.CERTIFY)
def picture_add(request: Asked, pk: int) -> HttpResponse:
    """Keep a picture of one of its proofs."""
    row = _row(request, pk)
    form = PictureForm(request.POST, request.FILES, procedure=row.procedure)
    if not form.is_valid():
        raise Refused("Choose a picture and the proof it shows.")
    add_proof_picture(
        by=request.user,
        certificate=row,
        proof=form.cleaned_data["proof"],
        upload=form.cleaned_data["picture"],
        at=timezone.now(),
    )
    messages.success(request, "The picture is kept with the certificate.")
    return redirect("certificate", row.pk)


@page(Action.SEE)
def picture(request: Asked, pk: int) -> FileResponse:
    """A picture of a proof, for people who may see the certificate."""
    row = get_object_or_404(ProofPicture, pk=pk, certificate__in=certificates_seen(request.user))
    answer = FileResponse(row.image.open("rb"), content_type="image/jpeg")
    answer["Cache-Control"] = "private, max-age=86400, immutable"
    answer["X-Content-Type-Options"] = "nosniff"
    return answer


def _person(request: Asked, username: str) -> Person:
    return get_object_or_404(people_seen(request.user), username=username)


def _row(request: Asked, pk: int) -> Qualification:
    return get_object_or_404(certificates_seen(request.user), pk=pk)


def _stand(rows: Any) -> dict[str, Any]:
    """Each certificate with how it stands today."""
    today = timezone.localdate()
    return {"rows": [(row, row.valid_on(today), row.said_on(today)) for row in rows]}


def _done(request: Asked, row: Qualification) -> HttpResponse:
    messages.success(request, f"Kept. {row.said_on(timezone.localdate())}")
    return redirect("certificate", row.pk)


def _asked(
    request: Asked,
    form: forms.Form,
    person: Person,
    procedure: str,
    row: Qualification | None = None,
) -> HttpResponse:
    context = {"form": form, "whose": person, "procedure": procedure, "row": row}
    status = form_status(request, form)
    return render(request, "repairs/certificate_form.html", context, status=status)
