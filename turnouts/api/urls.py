"""Addresses of the inventory's and the history's API."""

from rest_framework.routers import SimpleRouter

from turnouts.api import views

router = SimpleRouter()
router.register("lines", views.LineViewSet)
router.register("turnouts", views.TurnoutViewSet)
router.register("components", views.ComponentViewSet)
router.register("inspections", views.InspectionViewSet)
router.register("defects", views.DefectViewSet)
router.register("imports", views.ImportViewSet, basename="import")
router.register("runs", views.RunViewSet)

urlpatterns = router.urls
