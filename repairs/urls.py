"""Pages of disposition, repair estimates and job sheets."""

from django.urls import path

from repairs.pages import defects, jobs, sheets, what_if

urlpatterns = [
    path("defects/", defects.defects, name="defects"),
    path("judge-defects/", defects.judge_all, name="judge-defects"),
    path("make-jobs/", defects.make_jobs, name="make-jobs"),
    path("defects/<str:reference>/", defects.defect, name="defect"),
    path("defects/<str:reference>/what-if/", what_if.what_if_page, name="what-if"),
    path("defects/<str:reference>/judge/", defects.judge, name="defect-judge"),
    path("defects/<str:reference>/confirm/", defects.confirm, name="defect-confirm"),
    path("jobs/", jobs.jobs, name="jobs"),
    path("jobs/<str:reference>/", jobs.job, name="job"),
    path("jobs/<str:reference>/estimate/", jobs.estimate_again, name="job-estimate"),
    path("sheets/", sheets.sheets, name="job-sheets"),
    path("sheets/<str:number>/", sheets.sheet, name="job-sheet"),
    path("sheets/<str:number>/paper/", sheets.paper, name="job-sheet-paper"),
]
