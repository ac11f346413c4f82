"""The analysis' addresses."""

from django.urls import path

from health import views

urlpatterns = [
    path("hall", views.hall, name="hall"),
]
