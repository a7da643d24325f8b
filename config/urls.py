"""Addresses of the whole site; each app brings its own."""

from django.contrib import admin
from django.contrib.auth import views as auth
from django.urls import include, path
from drf_spectacular.views import SpectacularAPIView

from config import api_docs, health

urlpatterns = [
    path("", include("turnouts.urls")),
    path("", include("repairs.urls")),
    path("", include("planning.urls")),
    path("api/", include("turnouts.api.urls")),
    path("api/", include("repairs.api.urls")),
    path("api/", include("planning.api.urls")),
    path("health/live", health.live, name="health-live"),
    path("health/ready", health.ready, name="health-ready"),
    path("login/", auth.LoginView.as_view(redirect_authenticated_user=True), name="login"),
    path("logout/", auth.LogoutView.as_view(), name="logout"),
    path("admin/", admin.site.urls),
    path("api/schema/", SpectacularAPIView.as_view(), name="api-schema"),
    path("api/docs/", api_docs.docs, name="api-docs"),
]
