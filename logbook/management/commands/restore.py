"""Fill an empty database from a backup, and prove it."""

from typing import Any

from django.core.management import call_command
from django.core.management.base import BaseCommand, CommandError, CommandParser
from django.utils.translation import gettext as _

from logbook.backup.reading import Unfit, restore
from station.management.arguments import readable
from station.progress import ProgressBar


class Command(BaseCommand):
    help = "Fill an empty database from a backup, and prove its log; all of it or nothing."

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("file", type=readable, metavar="FILE")

    def handle(self, *args: Any, **options: Any) -> None:
        call_command("migrate", verbosity=0)
        try:
            with ProgressBar(_("restore")) as bar:
                heads = restore(options["file"], progress=bar)
        except Unfit as refusal:
            raise CommandError(_("%(why)s Nothing was written.") % {"why": refusal}) from refusal
        for code, head in heads.items():
            words = {"code": code, "head": head}
            self.stdout.write(_("%(code)s: whole, digest of the last entry %(head)s") % words)
        self.stdout.write(_("Run 'assess' now: what the analysis had stored is made anew."))
