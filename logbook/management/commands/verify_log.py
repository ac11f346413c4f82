"""Prove that the log is what was written, and that the database refuses to change it."""

import json
import re
from argparse import ArgumentTypeError
from typing import Any

from django.core.management.base import BaseCommand, CommandError, CommandParser
from django.db import connection
from django.utils.translation import gettext as _

from logbook import triggers
from logbook.verification import Verified, verify_station
from station.models import Station

LEAST_DIGITS = 16


def digest(text: str) -> str:
    """A printed digest, whole or its first sixteen or more digits, blanks allowed."""
    digits = re.sub(r"\s", "", text).lower()
    if not re.fullmatch(rf"[0-9a-f]{{{LEAST_DIGITS},64}}", digits):
        raise ArgumentTypeError(
            _("'%(text)s' is no digest: write at least %(count)s digits of 0-9 and a-f.")
            % {"text": text, "count": LEAST_DIGITS}
        )
    return digits


class Command(BaseCommand):
    help = "Verify the chain of entries and the database's own refusals; exit status 1 if broken."

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument(
            "--expect", type=digest, metavar="DIGEST", help="a printed digest that must be there"
        )
        parser.add_argument("--json", action="store_true", help="print what was found as JSON")

    def handle(self, *args: Any, **options: Any) -> None:
        expected = options["expect"] or ""
        found = [verify_station(station, expected) for station in Station.objects.order_by("code")]
        faults = faults_of(found, expected)
        if options["json"]:
            self.stdout.write(json.dumps(report(found, faults), indent=1))
        else:
            for one in found:
                self.stdout.write(told(one))
        if faults:
            raise CommandError("\n".join([*faults, _("The log is broken.")]))


def faults_of(found: list[Verified], expected: str) -> list[str]:
    """A sentence for every fault, with its place."""
    faults = [
        f"{one.station.code}: {found_break.why}" for one in found for found_break in one.breaks
    ]
    faults += [
        _("the database lacks the trigger %(name)s: run migrate, then look who removed it")
        % {"name": name}
        for name in triggers.missing(connection)
    ]
    if expected and not any(one.is_expected_found for one in found):
        faults.append(
            _(
                "no entry has the digest %(digest)s: the end of the log was cut off, or the chain "
                "was computed anew"
            )
            % {"digest": expected}
        )
    return faults


def told(one: Verified) -> str:
    words = {"code": one.station.code, "count": one.entries, "head": one.head_digest or "-"}
    return _("%(code)s: %(count)s entries, digest of the last %(head)s") % words


def report(found: list[Verified], faults: list[str]) -> dict[str, Any]:
    return {
        "is_broken": bool(faults),
        "faults": faults,
        "stations": [
            {
                "code": one.station.code,
                "entries": one.entries,
                "head": one.head_digest,
                "breaks": [{"no": broken.no, "why": broken.why} for broken in one.breaks],
            }
            for one in found
        ],
        "triggers_missing": triggers.missing(connection),
    }
