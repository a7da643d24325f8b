"""Pages of certificates."""

from django.urls import path

from repairs.pages import certificates

urlpatterns = [
    path("certificates/", certificates.certificates, name="certificates"),
    path("certificates/people/<str:username>/", certificates.of_person, name="certificates-of"),
    path("certificates/people/<str:username>/new/", certificates.new, name="certificate-new"),
    path("certificates/<int:pk>/", certificates.certificate, name="certificate"),
    path("certificates/<int:pk>/change/", certificates.change, name="certificate-change"),
    path(
        "certificates/<int:pk>/pictures/", certificates.picture_add, name="certificate-picture-add"
    ),
    path("certificates/pictures/<int:pk>/", certificates.picture, name="certificate-picture"),
]
