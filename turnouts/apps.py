from django.apps import AppConfig


class TurnoutsConfig(AppConfig):
    name = "turnouts"
    verbose_name = "Turnouts: inventory and defect history"
