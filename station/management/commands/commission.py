"""Create or update the register from a description file."""

from collections import Counter
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand, CommandError, CommandParser
from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from station.management.arguments import readable
from station.register.compare import Comparison
from station.register.take import Report, commission


class Command(BaseCommand):
    help = "Create or update the register from a description file; all of it or nothing."

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("file", type=readable, metavar="FILE.toml")
        parser.add_argument("--dry-run", action="store_true", help="say what would change")
        parser.add_argument(
            "--take-file", action="store_true", help="let the file win over later edits"
        )

    def handle(self, *args: Any, **options: Any) -> None:
        report = commission(
            read(options["file"]),
            options["file"].name,
            at=datetime.now(UTC),
            is_dry_run=options["dry_run"],
            takes_file=options["take_file"],
        )
        for remark in report.remarks:
            self.stderr.write(_("remark: %(remark)s") % {"remark": remark})
        self.refuse(report, takes_file=options["take_file"])
        for line in told(report.comparison):
            self.stdout.write(line)
        self.stdout.write(conclusion(report))

    def refuse(self, report: Report, *, takes_file: bool) -> None:
        if report.faults:
            raise CommandError(faults_told(report))
        if report.comparison.is_refused and not takes_file:
            raise CommandError(later_edits_told(report.comparison))


def read(path: Path) -> str:
    try:
        return path.read_text(encoding="utf-8")
    except UnicodeDecodeError as error:
        sentence = _("%(name)s is not UTF-8 text (byte %(byte)s): save it as UTF-8.")
        raise CommandError(sentence % {"name": path.name, "byte": error.start}) from error


def faults_told(report: Report) -> str:
    count = len(report.faults)
    head = ngettext(
        "%(count)s fault; nothing was changed.", "%(count)s faults; nothing was changed.", count
    ) % {"count": count}
    return "\n".join([*map(str, report.faults), head])


def later_edits_told(comparison: Comparison) -> str:
    lines = [str(change) for change in comparison.edited_later]
    lines += [_("%(place)s: was taken out") % {"place": one} for one in comparison.removed_later]
    head = _(
        "The register was edited after the file was last taken (register -> file above). Nothing "
        "was changed: bring the edits into the file, or let the file win with --take-file."
    )
    return "\n".join([*lines, head])


def told(comparison: Comparison) -> list[str]:
    """What is new, changed and gone, a line each."""
    kinds = Counter(str(row.kind.model._meta.verbose_name) for row in comparison.new)
    return [
        *(_("new: %(count)s x %(kind)s") % {"count": n, "kind": k} for k, n in kinds.items()),
        *(_("changed: %(change)s") % {"change": change} for change in comparison.changes),
        *(
            _("gone from the file, kept in the register: %(place)s") % {"place": place}
            for place in comparison.gone
        ),
    ]


def conclusion(report: Report) -> str:
    comparison = report.comparison
    if comparison.is_empty:
        return _("Nothing changed: the register says what the file says.")
    words = {"new": len(comparison.new), "changes": len(comparison.changes)}
    words["same"] = comparison.unchanged
    if report.is_taken:
        return _("Taken: %(new)s new rows, %(changes)s values changed, %(same)s as before.") % words
    return _("Dry run, nothing written: %(new)s new rows, %(changes)s values to change.") % words
