"""Write the whole database into one file, while people write."""

from datetime import UTC, datetime
from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand, CommandError, CommandParser
from django.utils.translation import gettext as _

from logbook.backup.writing import write_backup
from station.progress import ProgressBar


class Command(BaseCommand):
    help = "Write the whole database into one file that restores into either engine."

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("file", type=Path, metavar="FILE")

    def handle(self, *args: Any, **options: Any) -> None:
        path = options["file"]
        try:
            with ProgressBar(_("backup")) as bar:
                first = write_backup(path, at=datetime.now(UTC), progress=bar)
        except FileExistsError as error:
            sentence = _("%(name)s is there already: give the backup a name of its own.")
            raise CommandError(sentence % {"name": path}) from error
        except OSError as error:
            sentence = _("%(name)s cannot be written: %(error)s.")
            raise CommandError(sentence % {"name": path, "error": error.strerror}) from error
        for code, head in first["heads"].items():
            words = {"code": code, "count": head["no"], "head": head["digest"]}
            self.stdout.write(_("%(code)s: %(count)s entries, digest of the last %(head)s") % words)
        self.stdout.write(_("It holds the people's password digests: keep it as safe as the log."))
