from workups.web.bench import (
    entry_views,
    offline_views,
    partner_views,
    sheet_views,
    supply_views,
    views,
)
from workups.web.pages import page

urlpatterns = [
    page("work/<uuid:work_id>/bench/", views.show_bench),
    page("work/<uuid:work_id>/bench/start/", views.start_bench),
    page("work/<uuid:work_id>/bench/join/", partner_views.join_bench),
    page("work/<uuid:work_id>/bench/share/", partner_views.answer_share),
    page("work/<uuid:work_id>/bench/leave/", partner_views.leave_bench),
    page("review/<uuid:work_id>/part/", partner_views.part_partner),
    page("service-worker.js", offline_views.service_worker),
    page("work/<uuid:work_id>/bench/offline/", offline_views.show_offline_bench),
    page("work/<uuid:work_id>/bench/connection/", entry_views.check_connection),
    page("work/<uuid:work_id>/bench/replay/", entry_views.replay_entry),
    page("work/<uuid:work_id>/bench/sheet/", sheet_views.type_sheet),
    page("review/<uuid:work_id>/supply/", supply_views.supply_readings),
    page("work/<uuid:work_id>/bench/lock/", views.lock_readings),
    page("work/<uuid:work_id>/bench/steps/add/", entry_views.add_bench_step),
    page("work/<uuid:work_id>/bench/entries/<slug:entry>/<slug:about>/", entry_views.record_entry),
    page("work/<uuid:work_id>/bench/entries/<slug:entry>/", entry_views.record_entry),
]
