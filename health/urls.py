"""The analysis' addresses."""

from django.urls import path

from health.views import (
    availability,
    explain,
    flags,
    hall,
    history,
    record,
    review,
    transmissions,
    tubes,
    week,
)

urlpatterns = [
    path("hall", hall.hall, name="hall"),
    path("week", week.this_week, name="this_week"),
    path("week/<str:day>", week.week, name="week"),
    path("week/<str:monday>/sign", review.sign_week, name="sign_week"),
    path("week/<str:monday>/decide", review.decide, name="decide"),
    path("availability", availability.this_month, name="this_month"),
    path("availability/<str:month>", availability.availability, name="availability"),
    path("explain", explain.explain, name="explain"),
    path("explain/symptoms", explain.symptoms, name="symptoms"),
    path("explain/<str:name>", explain.explained, name="explained"),
    path("flags", flags.flags, name="flags"),
    path("record/<str:code>", record.record, name="record"),
    path("history/<str:code>/<str:meter>", history.history, name="history"),
    path("transmissions", transmissions.today, name="transmissions_today"),
    path("transmissions/<str:day>", transmissions.transmissions, name="transmissions"),
    path("tubes", tubes.tubes, name="tubes"),
    path("tubes/<str:serial>/emission", tubes.tube_emission, name="tube_emission"),
    path("flags/<str:code>/<str:meter>/<str:rule>/<int:first_no>", flags.flag, name="flag"),
]
