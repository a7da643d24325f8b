from django.apps import AppConfig


class TurnoutsConfig(AppConfig):
    name = "turnouts"
    verbose_name = "Turnouts: inventory and defect history"

    def ready(self) -> None:
        from turnouts.services.sheets.own_sheets import OWN_SHEETS
        from turnouts.services.sheets.registry import register

        register(*OWN_SHEETS)
