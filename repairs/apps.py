from django.apps import AppConfig


class RepairsConfig(AppConfig):
    name = "repairs"
    verbose_name = "Repairs: disposition, estimate and job sheets"

    def ready(self) -> None:
        from repairs import life_events
        from repairs.services.holding import held_at
        from repairs.services.import_sheets import QUALIFICATIONS
        from repairs.services.inspections import wanted_at_each
        from repairs.services.wear_limits import limits_where_they_stand
        from repairs.services.weld_records import recorded_passes
        from turnouts import (
            inspections_wanted,
            lifeline,
            menu,
            wear_limits,
            weld_records,
            what_holds,
        )
        from turnouts.access import Action
        from turnouts.analysis.terms import Role
        from turnouts.services.sheets.registry import register

        register(QUALIFICATIONS)
        for entry in (
            menu.Entry("Defects", "defects", Action.SEE, 20, home_of=Role.INSPECTOR),
            menu.Entry("Repair jobs", "jobs", Action.SEE, 25, also="forecasts"),
            menu.Entry("Rules", "rules", Action.EDIT_RULES, 60, also="procedures"),
            menu.Entry("Certificates", "certificates", Action.CERTIFY, 65),
            menu.Entry(
                "Job sheets",
                "job-sheets",
                Action.SEE_SHEETS,
                30,
                home_of=Role.WELDER,
                also="running-jobs",
            ),
        ):
            menu.add(entry)
        menu.add_own("Your certificates", "certificates")
        for provider in (
            life_events.decisions,
            life_events.repairs,
            life_events.job_sheets,
            life_events.renewal_choices,
            life_events.slow_orders,
            life_events.records,
        ):
            lifeline.add_provider(provider)
        inspections_wanted.add_provider(wanted_at_each)
        what_holds.add_provider(held_at)
        wear_limits.add_provider(limits_where_they_stand)
        weld_records.add_provider(recorded_passes)
