from django.apps import AppConfig


class RepairsConfig(AppConfig):
    name = "repairs"
    verbose_name = "Repairs: disposition, estimate and job sheets"
