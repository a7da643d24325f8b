"""The load list on paper as an answer, for page and API alike."""

from django.http import HttpResponse

from planning.models import WeekPlan
from planning.paper.load_out import load_out_paper
from planning.services.load_outs import load_out_kept
from turnouts.models import Person


def paper_answer(plan: WeekPlan, reader: Person, truck: str, day: str) -> HttpResponse:
    """The PDF in the reader's units, of one truck and day where they are named."""
    printed = load_out_paper(plan, load_out_kept(plan), reader.units, truck=truck, day=day)
    answer = HttpResponse(printed, content_type="application/pdf")
    name = "-".join(
        part for part in ("load", plan.territory.code, str(plan.week), truck, day) if part
    )
    answer["Content-Disposition"] = f'inline; filename="{name}.pdf"'
    answer["Cache-Control"] = "private, no-cache"
    return answer
