from django.urls import path
from rest_framework.routers import SimpleRouter

from planning.api import calendars, network, orders, renewals, stock, views, what_if

router = SimpleRouter()
router.register("work-windows", views.WorkWindowViewSet)
router.register("plans", views.PlanViewSet)
router.register("job-orders", orders.JobOrderViewSet)
router.register("plan-runs", calendars.PlanRunViewSet, basename="plan-run")
router.register("network-plans", network.NetworkPlanViewSet, basename="network-plan")
router.register("week-questions", what_if.WeekQuestionViewSet, basename="week-question")
router.register("crew-calendars", calendars.CrewCalendarViewSet)
router.register("stock", stock.StockViewSet, basename="stock")
router.register("stock-uses", stock.StockUseViewSet)

urlpatterns = [
    path("network-weeks/<day:monday>/", network.NetworkWeekView.as_view()),
    path("renewals-due/", renewals.RenewalsDueView.as_view()),
    path("crew-certificates/", renewals.CrewCertificatesView.as_view()),
    path("stock-beyond/", stock.BeyondView.as_view()),
    *router.urls,
]
