"""Pages of disposition, repair estimates and job sheets."""

from django.urls import include, path

from repairs.pages import (
    defect_list,
    defects,
    jobs,
    overrules,
    rule_sets,
    rules,
    sheets,
    what_if,
    work,
)

urlpatterns = [
    path("defects/", defect_list.defects, name="defects"),
    path("defects.csv", defect_list.defects_csv, name="defects-csv"),
    path("judge-defects/", defect_list.judge_all, name="judge-defects"),
    path("make-jobs/", defect_list.make_jobs, name="make-jobs"),
    path("defects/<str:reference>/", defects.defect, name="defect"),
    path("defects/<str:reference>/what-if/", what_if.what_if_page, name="what-if"),
    path("defects/<str:reference>/judge/", defects.judge, name="defect-judge"),
    path("defects/<str:reference>/confirm/", defects.confirm, name="defect-confirm"),
    path("defects/<str:reference>/overrule/", overrules.overrule, name="defect-overrule"),
    path("rules/", rules.rules, name="rules"),
    path("rules/rows/", rules.rows, name="rule-rows"),
    path("rules/propose/", rules.propose, name="rule-propose"),
    path("rules/overruling/", overrules.rates, name="overruling"),
    path("rules/overruling.csv", overrules.rates_csv, name="overruling-csv"),
    path("rules/territories/<str:code>/", rule_sets.propose, name="territory-sets"),
    path("rules/sets/<int:pk>/", rule_sets.change, name="rule-set-change"),
    path("rules/sets/<int:pk>/preview/", rule_sets.preview, name="rule-set-preview"),
    path("rules/sets/<int:pk>/answer/", rule_sets.answer, name="rule-set-answer"),
    path("rules/<int:pk>/", rules.rule, name="rule"),
    path("rules/<int:pk>/preview/", rules.preview, name="rule-preview"),
    path("rules/<int:pk>/answer/", rules.answer, name="rule-answer"),
    path("", include("repairs.procedure_urls")),
    path("jobs/", jobs.jobs, name="jobs"),
    path("jobs/<str:reference>/", jobs.job, name="job"),
    path("jobs/<str:reference>/estimate/", jobs.estimate_again, name="job-estimate"),
    path("sheets/", sheets.sheets, name="job-sheets"),
    path("sheets/trackside-worker.js", work.worker, name="trackside-worker"),
    path("sheets/<str:number>/", sheets.sheet, name="job-sheet"),
    path("sheets/<str:number>/work/", work.work, name="job-sheet-work"),
    path("sheets/<str:number>/paper/", sheets.paper, name="job-sheet-paper"),
]
