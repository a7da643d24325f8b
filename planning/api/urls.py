from rest_framework.routers import SimpleRouter

from planning.api import views

router = SimpleRouter()
router.register("work-windows", views.WorkWindowViewSet)
router.register("plans", views.PlanViewSet)

urlpatterns = router.urls
