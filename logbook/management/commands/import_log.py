"""Take past readings out of a CSV file into the log."""

import json
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand, CommandError, CommandParser
from django.utils.translation import gettext as _

from logbook.importing.faults import Report, Unreadable
from logbook.importing.run import import_file
from logbook.models import Source
from station.management.arguments import readable
from station.models import Station
from station.progress import ProgressBar


class Command(BaseCommand):
    help = "Take past readings out of a CSV file, a line a round or a line a reading."

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("file", type=readable, metavar="FILE.csv")
        parser.add_argument("--station", metavar="CODE", help="needed where there are several")
        parser.add_argument(
            "--logger", action="store_true", help="an instrument link read it: not corrected later"
        )
        parser.add_argument("--dry-run", action="store_true", help="judge every line, write none")
        parser.add_argument("--report", type=Path, metavar="FILE.json", help="all refused lines")

    def handle(self, *args: Any, **options: Any) -> None:
        path = options["file"]
        try:
            with ProgressBar(_("import")) as bar:
                report = import_file(
                    path,
                    station_named(options["station"]),
                    at=datetime.now(UTC),
                    is_dry_run=options["dry_run"],
                    source=Source.LOGGER if options["logger"] else Source.IMPORT,
                    progress=bar,
                )
        except Unreadable as refusal:
            words = {"name": path.name, "why": refusal}
            raise CommandError(_("%(name)s: %(why)s Nothing was taken.") % words) from refusal
        if options["report"]:
            options["report"].write_text(json.dumps(report.as_json(), indent=1), encoding="utf-8")
        self.stdout.write(told(report, is_dry_run=options["dry_run"]))
        if report.faults:
            count = _("%(count)s lines were refused.") % {"count": len(report.faults)}
            raise CommandError("\n".join([*report.fault_lines(), count]))


def station_named(code: str | None) -> Station:
    stations = {one.code: one for one in Station.objects.all()}
    if code is None and len(stations) == 1:
        return next(iter(stations.values()))
    if code not in stations:
        known = ", ".join(sorted(stations)) or _("none: commission one first")
        raise CommandError(
            _("Name the station with --station; here is %(known)s.") % {"known": known}
        )
    return stations[code]


def told(report: Report, *, is_dry_run: bool) -> str:
    words = {
        **vars(report),
        "verb": _("Dry run, nothing written; it would take") if is_dry_run else _("Taken"),
    }
    return (
        _(
            "%(verb)s: %(rounds)s rounds, %(readings)s readings (%(to_re_read)s of them to be "
            "re-read) and %(states)s changes of state. In the log already: %(known)s rounds; said "
            "twice in the file: %(repeated)s."
        )
        % words
    )
