from django.apps import AppConfig


class TurnoutsConfig(AppConfig):
    name = "turnouts"
    verbose_name = "Turnouts: inventory and defect history"

    def ready(self) -> None:
        from turnouts import fault_words, lifeline, menu
        from turnouts.access import Action
        from turnouts.analysis.terms import Role

        fault_words.use_own_sentences()
        for entry in (
            menu.Entry("Network", "network", Action.SEE, 35),
            menu.Entry("Turnouts", "turnouts", Action.SEE, 40),
            menu.Entry("Components", "components", Action.SEE, 50, home_of=Role.ENGINEER),
            menu.Entry("Import", "import", Action.IMPORT, 60),
            menu.Entry("People", "people", Action.GRANT, 70, home_of=Role.ADMINISTRATOR),
        ):
            menu.add(entry)
        for provider in (
            lifeline.installations,
            lifeline.shop_visits,
            lifeline.inspections,
            lifeline.defects,
            lifeline.photographs,
        ):
            lifeline.add_provider(provider)
