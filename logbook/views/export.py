"""Tables of the log as CSV files."""

from datetime import timedelta

from django.http import HttpRequest, StreamingHttpResponse
from django.http.response import HttpResponseBase
from django.shortcuts import render
from django.utils import timezone

from logbook.exporting.tables import TABLES, csv_text
from logbook.forms.export import ExportForm
from logbook.times import log_day_of
from station.access import needs

WEEK = timedelta(days=6)


@needs("read")
def export(request: HttpRequest) -> HttpResponseBase:
    """The form; with a table in the address its file, or the form with what was wrong."""
    station = request.user.station
    today = log_day_of(station, timezone.now())
    asked = request.GET if "table" in request.GET else None
    form = ExportForm(asked, station=station, initial={"since": today - WEEK, "until": today})
    if not form.is_bound:
        return render(request, "logbook/export.html", {"form": form})
    if not form.is_valid():
        return render(request, "logbook/export.html", {"form": form}, status=400)
    return file_of(form)


def file_of(form: ExportForm) -> HttpResponseBase:
    table = TABLES[form.cleaned_data["table"]]
    lines = table.lines(form.station, form.transmitters, form.span)
    response = StreamingHttpResponse(csv_text(lines), content_type="text/csv; charset=utf-8")
    response["Content-Disposition"] = f'attachment; filename="{form.file_name}"'
    return response
