from workups.web.pages import page
from workups.web.reports import sheet_views, views

urlpatterns = [
    page("work/<uuid:work_id>/report/", views.show_report),
    page("work/<uuid:work_id>/report/submit/", views.submit_report),
    page("work/<uuid:work_id>/report/beside/", views.compare_plans),
    page("work/<uuid:work_id>/report/query/", views.query_mark),
    page("work/<uuid:work_id>/bench-sheet.pdf", sheet_views.print_bench_sheet),
    page("work/<uuid:work_id>/flask-labels.pdf", sheet_views.print_flask_labels),
    page("work/<uuid:work_id>/yield-report.pdf", sheet_views.print_yield_report),
]
