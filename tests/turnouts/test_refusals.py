"""A refusal reaches a person as a page, a program as JSON, each with sentence and status."""

from typing import Any

import pytest
from django import forms
from django.core.exceptions import PermissionDenied
from django.test import Client, RequestFactory

from turnouts.access import Forbidden
from turnouts.analysis.units import UnitError
from turnouts.api.errors import handle
from turnouts.models import Person
from turnouts.pages.asking import form_status, refusals_in
from turnouts.refusals import SayRefusals
from turnouts.services.errors import Conflict, Refused

CASES = [
    (Forbidden("Not you."), 403),
    (Conflict("Too late."), 409),
    (Refused("Not so."), 400),
    (UnitError("Not a length."), 400),
]


@pytest.mark.django_db
@pytest.mark.parametrize(("fault", "status"), CASES)
def test_a_person_reads_the_sentence(
    rf: RequestFactory, engineer: Person, fault: Exception, status: int
) -> None:
    request = rf.get("/")
    request.user = engineer
    answer = SayRefusals(lambda r: pytest.fail("not called")).process_exception(request, fault)
    assert answer is not None
    assert answer.status_code == status
    assert str(fault) in answer.content.decode()


@pytest.mark.parametrize(("fault", "status"), CASES)
def test_a_program_reads_the_sentence(fault: Exception, status: int) -> None:
    answer = handle(fault, {})
    assert answer is not None
    assert answer.status_code == status
    assert answer.data["detail"] == str(fault)


def test_a_fault_of_our_own_is_no_refusal(rf: RequestFactory) -> None:
    middleware = SayRefusals(lambda request: pytest.fail("not called"))
    assert middleware.process_exception(rf.get("/"), KeyError("x")) is None
    assert handle(KeyError("x"), {}) is None


def test_a_plain_refusal_of_the_framework_is_still_403() -> None:
    answer: Any = handle(PermissionDenied(), {})
    assert answer.status_code == 403


@pytest.mark.django_db
def test_a_refused_page_offers_the_way_back(as_inspector: Client) -> None:
    answer = as_inspector.get("/people/")
    assert answer.status_code == 403
    text = answer.content.decode()
    assert "You may not change people and roles. It takes one of these roles: administrator" in text
    assert 'href="/"' in text


@pytest.mark.django_db
@pytest.mark.parametrize(
    "address", ["/turnouts/a%00b/", "/turnouts/?q=%00", "/components/?kind=%00"]
)
def test_a_sign_no_record_can_hold_is_refused_and_no_fault(
    as_inspector: Client, address: str
) -> None:
    answer = as_inspector.get(address)
    assert answer.status_code == 400
    assert "no record can hold" in answer.content.decode()


class _Reason(forms.Form):
    reason = forms.CharField()


@pytest.mark.parametrize(("fault", "status"), [(Refused("Not so."), 400), (Conflict("Late."), 409)])
def test_a_refused_form_keeps_what_was_typed_and_says_why(
    rf: RequestFactory, fault: Refused, status: int
) -> None:
    form = _Reason({"reason": "It broke"})
    with refusals_in(form):
        raise fault
    assert form.non_field_errors() == [str(fault)]
    assert form["reason"].value() == "It broke"
    assert form_status(rf.post("/"), form) == status


def test_who_may_not_do_it_is_told_so_on_a_page_of_its_own() -> None:
    form = _Reason({"reason": "It broke"})
    with pytest.raises(Forbidden), refusals_in(form):
        raise Forbidden("Not you.")
    assert not form.errors


def test_a_form_nobody_sent_is_no_fault(rf: RequestFactory) -> None:
    assert form_status(rf.get("/"), _Reason()) == 200
    assert form_status(rf.post("/"), _Reason({})) == 400
