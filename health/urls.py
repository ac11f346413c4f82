"""The analysis' addresses."""

from django.urls import path

from health.views import flags, hall

urlpatterns = [
    path("hall", hall.hall, name="hall"),
    path("flags", flags.flags, name="flags"),
    path("flags/<str:code>/<str:meter>/<str:rule>/<int:first_no>", flags.flag, name="flag"),
]
