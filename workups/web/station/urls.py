from django.urls import path

from workups.web.station import views

urlpatterns = [
    path("station/", views.enter_station, name="enter-station"),
    path("station/weighing/", views.record_at_station, name="record-at-station"),
    path("station/stay/", views.stay_at_station, name="stay-at-station"),
    path("station/leave/", views.leave_station, name="leave-station"),
    path("work/<uuid:work_id>/pin/", views.set_station_pin, name="set-station-pin"),
]
