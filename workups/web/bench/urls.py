from django.urls import path

from workups.web.bench import (
    entry_views,
    offline_views,
    partner_views,
    sheet_views,
    supply_views,
    views,
)

urlpatterns = [
    path("work/<uuid:work_id>/bench/", views.show_bench, name="show-bench"),
    path("work/<uuid:work_id>/bench/start/", views.start_bench, name="start-bench"),
    path("work/<uuid:work_id>/bench/join/", partner_views.join_bench, name="join-bench"),
    path("work/<uuid:work_id>/bench/share/", partner_views.answer_share, name="answer-share"),
    path("work/<uuid:work_id>/bench/leave/", partner_views.leave_bench, name="leave-bench"),
    path("review/<uuid:work_id>/part/", partner_views.part_partner, name="part-partner"),
    path("service-worker.js", offline_views.service_worker, name="service-worker"),
    path(
        "work/<uuid:work_id>/bench/offline/",
        offline_views.show_offline_bench,
        name="show-offline-bench",
    ),
    path(
        "work/<uuid:work_id>/bench/connection/",
        entry_views.check_connection,
        name="check-connection",
    ),
    path("work/<uuid:work_id>/bench/replay/", entry_views.replay_entry, name="replay-entry"),
    path("work/<uuid:work_id>/bench/sheet/", sheet_views.type_sheet, name="type-sheet"),
    path("review/<uuid:work_id>/supply/", supply_views.supply_readings, name="supply-readings"),
    path("work/<uuid:work_id>/bench/lock/", views.lock_readings, name="lock-readings"),
    path(
        "work/<uuid:work_id>/bench/steps/add/", entry_views.add_bench_step, name="add-bench-step"
    ),
    path(
        "work/<uuid:work_id>/bench/entries/<slug:entry>/<slug:about>/",
        entry_views.record_entry,
        name="record-entry",
    ),
    path(
        "work/<uuid:work_id>/bench/entries/<slug:entry>/",
        entry_views.record_entry,
        name="record-entry",
    ),
]
