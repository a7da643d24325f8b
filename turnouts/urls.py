"""Pages of the inventory and the defect history."""

from django.urls import path

from turnouts.pages import (
    components,
    defects,
    exports,
    home,
    imports,
    inventory,
    people,
    reports,
    runs,
    why,
)
from turnouts.pages import turnouts as places

urlpatterns = [
    path("", home.home, name="home"),
    path("own-settings/", home.own_settings, name="own-settings"),
    path("own-settings/password/", home.OwnPassword.as_view(), name="own-password"),
    path("turnouts/", places.turnouts, name="turnouts"),
    path("turnouts/<str:code>/", places.turnout, name="turnout"),
    path("turnouts/<str:code>/change/", inventory.change_turnout, name="turnout-change"),
    path("turnouts/<str:code>/install/", inventory.install, name="install"),
    path("turnouts/<str:code>/report/", reports.report, name="report"),
    path("inspections/<str:reference>/", places.inspection, name="inspection"),
    path("components/", components.components, name="components"),
    path("components/<str:serial>/", components.component, name="component"),
    path("components/<str:serial>/why/", why.why, name="component-why"),
    path("components/<str:serial>/why/wear.csv", why.wear_csv, name="component-wear-csv"),
    path("components/<str:serial>/why/defects.csv", why.defects_csv, name="component-defects-csv"),
    path("components/<str:serial>/remove/", inventory.remove, name="component-remove"),
    path("components/<str:serial>/to-shop/", inventory.to_shop, name="component-to-shop"),
    path("components/<str:serial>/from-shop/", inventory.from_shop, name="component-from-shop"),
    path("defects/<str:reference>/record/", defects.defect_record, name="defect-record"),
    path("defects/<str:reference>/photographs/", defects.photograph_add, name="photograph-add"),
    path("photographs/<int:pk>/", defects.photograph, name="photograph"),
    path("import/", imports.imports, name="import"),
    path("import/<int:pk>/", imports.import_run, name="import-run"),
    path("import/<int:pk>/accept/", imports.import_accept, name="import-accept"),
    path("export/", exports.exports, name="export"),
    path("export/<int:pk>/", exports.export_run, name="export-run"),
    path("export/<int:pk>/file/", exports.export_file, name="export-file"),
    path("runs/<int:pk>/", runs.run, name="run"),
    path("people/", people.people, name="people"),
    path("people/<str:username>/", people.person, name="person"),
    path("people/<str:username>/active/", people.set_active, name="person-active"),
    path("grants/<int:pk>/revoke/", people.revoke, name="revoke"),
]
