"""Addresses of the API of decisions, jobs, estimates and job sheets."""

from rest_framework.routers import SimpleRouter

from repairs.api import overrules, rules, views

router = SimpleRouter()
router.register("decisions", views.DecisionViewSet)
router.register("overruling", overrules.OverrulingRateViewSet, basename="overruling")
router.register("rules", rules.OwnerRuleViewSet, basename="owner-rule")
router.register("jobs", views.JobViewSet)
router.register("estimates", views.EstimateViewSet)
router.register("job-sheets", views.JobSheetViewSet)

urlpatterns = router.urls
