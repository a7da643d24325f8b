"""Addresses of the API of decisions, jobs, estimates and job sheets."""

from django.urls import path
from rest_framework.routers import SimpleRouter

from repairs.api import overrules, questions, rule_sets, rules, views

router = SimpleRouter()
router.register("decisions", views.DecisionViewSet)
router.register("overruling", overrules.OverrulingRateViewSet, basename="overruling")
router.register("rules", rules.OwnerRuleViewSet, basename="owner-rule")
router.register("rule-sets", rule_sets.RuleSetChangeViewSet, basename="rule-set-change")
router.register("jobs", views.JobViewSet)
router.register("estimates", views.EstimateViewSet)
router.register("job-sheets", views.JobSheetViewSet)

urlpatterns = [
    path("decisions/what-if/<str:reference>/", questions.WhatIfView.as_view()),
    path("decisions/costs/<str:reference>/", questions.CostsView.as_view()),
    *router.urls,
]
