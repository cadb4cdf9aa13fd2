from workups.web.pages import page
from workups.web.station import views

urlpatterns = [
    page("station/", views.enter_station),
    page("station/weighing/", views.record_at_station),
    page("station/stay/", views.stay_at_station),
    page("station/leave/", views.leave_station),
    page("work/<uuid:work_id>/pin/", views.set_station_pin),
]
