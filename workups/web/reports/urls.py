from django.urls import path

from workups.web.reports import beside_views, sheet_views, views

urlpatterns = [
    path("work/<uuid:work_id>/report/", views.show_report, name="show-report"),
    path("work/<uuid:work_id>/report/submit/", views.submit_report, name="submit-report"),
    path("work/<uuid:work_id>/report/beside/", beside_views.compare_plans, name="compare-plans"),
    path("work/<uuid:work_id>/report/query/", views.query_mark, name="query-mark"),
    path(
        "work/<uuid:work_id>/bench-sheet.pdf", sheet_views.print_bench_sheet,
        name="print-bench-sheet",
    ),
    path(
        "work/<uuid:work_id>/flask-labels.pdf", sheet_views.print_flask_labels,
        name="print-flask-labels",
    ),
    path(
        "work/<uuid:work_id>/yield-report.pdf", sheet_views.print_yield_report,
        name="print-yield-report",
    ),
]
