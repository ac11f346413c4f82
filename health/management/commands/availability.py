"""Scheduled, lost and degraded time of a month, by transmitter and service, by cause."""

import json
from argparse import ArgumentParser, ArgumentTypeError
from dataclasses import asdict
from datetime import UTC, datetime
from typing import Any

from django.core.management.base import BaseCommand

from health.boards.availability import (
    AvailabilityBoard,
    AvailabilityLine,
    build_availability,
)
from health.statistics.availability import Sum
from logbook.months import parsed_month
from station.models import Station


def month(text: str) -> tuple[datetime, datetime]:
    found = parsed_month(text)
    if found is None:
        raise ArgumentTypeError(f"'{text}' is not a month: write it as 2026-03.")
    return found


class Command(BaseCommand):
    help = "What was scheduled, lost and degraded in a month."

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("--month", type=month, required=True, help="such as 2026-03")
        parser.add_argument("--json", action="store_true", help="print it as JSON")

    def handle(self, *args: Any, **options: Any) -> None:
        now, (since, until) = datetime.now(UTC), options["month"]
        boards = {
            station.code: build_availability(station, since, until, now)
            for station in Station.objects.order_by("code")
        }
        if options["json"]:
            whole = [as_json(code, board) for code, board in boards.items()]
            json.dump(whole, self.stdout, indent=1)
            self.stdout.write("")
            return
        for code, board in boards.items():
            for line in board.lines:
                self.stdout.write(f"{code} {line_text(line)}")


def line_text(line: AvailabilityLine) -> str:
    code, found = line.transmitter.code, line.of_transmitter
    if found.availability is None:
        return f"{code}: no schedule in this month"
    lost = f"{found.lost_s:.0f} s of {found.scheduled_s:.0f} s lost"
    beside = f"{found.degraded_s:.0f} s degraded, {found.planned_s:.0f} s agreed work"
    service = f"service {100 * (line.of_service.availability or 0):.3f} %"
    return f"{code}: {100 * found.availability:.3f} %, {service}; {lost}, {beside}"


def as_json(code: str, board: AvailabilityBoard) -> dict[str, Any]:
    return {
        "station": code,
        "since": board.since.isoformat(),
        "until": board.until.isoformat(),
        "has_schedule": board.has_schedule,
        "transmitters": [
            {
                "transmitter": line.transmitter.code,
                "of_transmitter": sums(line.of_transmitter),
                "of_service": sums(line.of_service),
                "recycles": line.recycles,
                "days_at_reduced_power": line.low_days,
                "causes": [asdict(cause) for cause in line.causes],
                "reliability": asdict(line.reliability) if line.reliability else None,
            }
            for line in board.lines
        ],
    }


def sums(found: Sum) -> dict[str, float | None]:
    return {**asdict(found), "availability": found.availability}
