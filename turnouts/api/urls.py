"""Addresses of the inventory's and the history's API."""

from rest_framework.routers import SimpleRouter

from turnouts.api import views

router = SimpleRouter()
for name, endpoint in (
    ("lines", views.LineViewSet),
    ("turnouts", views.TurnoutViewSet),
    ("components", views.ComponentViewSet),
    ("inspections", views.InspectionViewSet),
    ("defects", views.DefectViewSet),
    ("imports", views.ImportViewSet),
    ("runs", views.RunViewSet),
):
    router.register(name, endpoint, basename=f"api-{name}")  # pages have names like these too

urlpatterns = router.urls
