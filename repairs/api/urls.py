"""Addresses of the API of decisions, jobs, estimates and job sheets."""

from django.urls import path
from rest_framework.routers import SimpleRouter

from repairs.api import (
    certificates,
    closing_changes,
    field,
    field_records,
    inspections,
    lance,
    overrules,
    procedures,
    put_right,
    questions,
    reviews,
    rule_sets,
    rules,
    running,
    try_out,
    views,
    weld_or_replace,
)

router = SimpleRouter()
router.register("certificates", certificates.CertificateViewSet, basename="certificate")
router.register("decisions", views.DecisionViewSet)
router.register("overruling", overrules.OverrulingRateViewSet, basename="overruling")
router.register("rules", rules.OwnerRuleViewSet, basename="owner-rule")
router.register("rule-sets", rule_sets.RuleSetChangeViewSet, basename="rule-set-change")
router.register("procedures", procedures.ProcedureViewSet, basename="procedure")
router.register("procedure-editions", procedures.EditionViewSet)
router.register("lance-cooling", lance.LanceCoolingViewSet)
router.register("reviews", reviews.ReviewViewSet, basename="review")
router.register("jobs", views.JobViewSet)
router.register("estimates", views.EstimateViewSet)
router.register("job-sheets", views.JobSheetViewSet)

urlpatterns = [
    path("decisions/what-if/<str:reference>/", questions.WhatIfView.as_view()),
    path("inspections-due/<str:code>/", inspections.InspectionsDueView.as_view()),
    path("decisions/costs/<str:reference>/", questions.CostsView.as_view()),
    path("weld-or-replace/<str:serial>/", weld_or_replace.WeldOrReplaceView.as_view()),
    path("forecasts/", field.ForecastsView.as_view()),
    path("running-jobs/", running.RunningJobsView.as_view()),
    path("job-sheets/<str:number>/work/", field.SheetWorkView.as_view(), name="api-sheet-work"),
    path(
        "job-sheets/<str:number>/events/", field.SheetEventsView.as_view(), name="api-sheet-events"
    ),
    path("job-sheets/<str:number>/events/<uuid:event>/photo/", field.EventPhotoView.as_view()),
    path(
        "job-sheets/<str:number>/events/<uuid:event>/put-right/", put_right.PutRightView.as_view()
    ),
    path("job-sheets/<str:number>/record/", field_records.RecordView.as_view()),
    path("job-sheets/<str:number>/record/paper/", field_records.RecordPaperView.as_view()),
    path("job-sheets/<str:number>/record/sign/", field_records.SignView.as_view()),
    path("job-sheets/<str:number>/record/correct/", field_records.CorrectView.as_view()),
    path("job-sheets/<str:number>/closing-changes/", closing_changes.ClosingChangesView.as_view()),
    path(
        "job-sheets/<str:number>/closing-changes/<int:pk>/answer/",
        closing_changes.ClosingAnswerView.as_view(),
    ),
    path("job-sheets/<str:number>/let-start/", field_records.LetStartView.as_view()),
    path("job-sheets/<str:number>/restriction/", field_records.RestrictionView.as_view()),
    path("jobs/<str:reference>/try-out/", try_out.TryOutView.as_view()),
    *router.urls,
]
