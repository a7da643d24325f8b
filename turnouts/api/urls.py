"""Addresses of the inventory's and the history's API."""

from rest_framework.routers import SimpleRouter

from turnouts.api import families, network, outlook, runs, views

router = SimpleRouter()
for name, endpoint in (
    ("lines", views.LineViewSet),
    ("network", network.NetworkViewSet),
    ("turnouts", views.TurnoutViewSet),
    ("components", views.ComponentViewSet),
    ("family-comparisons", families.FamilyComparisonViewSet),
    ("repeat-offenders", outlook.RepeatOffenderViewSet),
    ("early-warnings", outlook.EarlyWarningViewSet),
    ("wear-forecasts", outlook.WearForecastViewSet),
    ("forecast-record", outlook.ForecastRecordViewSet),
    ("inspections", views.InspectionViewSet),
    ("defects", views.DefectViewSet),
    ("imports", runs.ImportViewSet),
    ("exports", runs.ExportViewSet),
    ("runs", runs.RunViewSet),
):
    router.register(name, endpoint, basename=f"api-{name}")  # pages have names like these too

urlpatterns = router.urls
