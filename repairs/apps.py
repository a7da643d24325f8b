from django.apps import AppConfig


class RepairsConfig(AppConfig):
    name = "repairs"
    verbose_name = "Repairs: disposition, estimate and job sheets"

    def ready(self) -> None:
        from repairs.services.import_sheets import QUALIFICATIONS
        from turnouts.services.sheets.registry import register

        register(QUALIFICATIONS)
