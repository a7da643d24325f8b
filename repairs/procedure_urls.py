"""Pages of welding procedures."""

from django.urls import path

from repairs.pages import procedures

urlpatterns = [
    path("procedures/", procedures.procedures, name="procedures"),
    path("procedures/<str:name>/", procedures.procedure, name="procedure"),
    path("procedures/<str:name>/propose/", procedures.propose, name="procedure-propose"),
    path("procedures/editions/<int:pk>/", procedures.own_edition, name="own-edition"),
    path("procedures/editions/<int:pk>/preview/", procedures.preview, name="own-edition-preview"),
    path("procedures/editions/<int:pk>/answer/", procedures.answer, name="own-edition-answer"),
]
