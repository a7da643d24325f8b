from django.apps import AppConfig


class PlanningConfig(AppConfig):
    name = "planning"
    verbose_name = "Planning: the week in track time"

    def ready(self) -> None:
        from planning.services.import_sheets import OWN_SHEETS, PLACES
        from planning.services.stock_use import stock_words, take_off_stock
        from repairs import signed
        from turnouts import menu
        from turnouts.access import Action
        from turnouts.analysis.terms import Role
        from turnouts.services.sheets.moved_posts import register_places
        from turnouts.services.sheets.registry import register

        register(*OWN_SHEETS)
        register_places(*PLACES)
        menu.add(menu.Entry("Week", "this-week", Action.SEE_SHEETS, 10, home_of=Role.SUPERVISOR))
        signed.add_follower(take_off_stock)
        signed.add_words(stock_words)
