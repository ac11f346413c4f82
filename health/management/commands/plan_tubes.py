"""Every socket and spare: hours, when its tube is due, what to order by when."""

import json
from argparse import ArgumentParser
from datetime import UTC, datetime
from typing import Any

from django.core.management.base import BaseCommand

from health.boards.tubes import SocketLine, SpareLine, TubeBoard, TypeLine, build_tube_board
from station.models import Station


class Command(BaseCommand):
    help = "What the tubes of the station have behind them, and what to order by when."

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("--json", action="store_true", help="print the plan as JSON")

    def handle(self, *args: Any, **options: Any) -> None:
        now = datetime.now(UTC)
        boards = {station.code: build_tube_board(station, now) for station in Station.objects.all()}
        if options["json"]:
            json.dump([plan(code, board) for code, board in boards.items()], self.stdout, indent=1)
            self.stdout.write("")
            return
        for code, board in boards.items():
            for line in board.types:
                self.stdout.write(f"{code} {type_text(line)}")


def type_text(line: TypeLine) -> str:
    when = f"order one by {line.order_by}" if line.order_by else "none to order"
    return f"{line.tube_type}: {line.ready_spares} ready, {when} (by rated life)"


def plan(code: str, board: TubeBoard) -> dict[str, Any]:
    return {
        "station": code,
        "life": "by rated life",
        "sockets": [socket(line) for line in board.sockets],
        "spares": [spare(line) for line in board.spares],
        "types": [stock(line) for line in board.types],
    }


def socket(line: SocketLine) -> dict[str, Any]:
    place = {"transmitter": line.socket.stage.transmitter.code, "socket": line.socket.code}
    if line.tube is None or line.hours is None:
        return {**place, "tube": None}
    return {
        **place,
        "tube": line.tube.serial,
        "type": line.tube.tube_type.code,
        "filament_h": round(line.hours.filament.hours, 1),
        "estimated_h": round(line.hours.filament.estimated, 1),
        "ht_h": round(line.hours.ht.hours, 1),
        "starts": line.hours.starts,
        "rated_life_h": line.tube.tube_type.rated_life_h,
        "hours_a_week": round(line.hours_a_week, 1),
        "early": day(line.early),
        "late": day(line.late),
        "order_by": day(line.order_by),
    }


def spare(line: SpareLine) -> dict[str, Any]:
    return {
        "tube": line.tube.serial,
        "type": line.tube.tube_type.code,
        "filament_h": round(line.hours.filament.hours, 1),
        "shelf_since": day(line.shelf_since),
        "shelf_days": line.shelf_days,
        "rotation_due": day(line.rotation_due),
        "is_ready": line.is_ready,
        "wants": list(line.wants),
    }


def stock(line: TypeLine) -> dict[str, Any]:
    return {
        "type": line.tube_type.code,
        "in_use": line.sockets,
        "due_in_lead_time": line.due_in_lead_time,
        "ready_spares": line.ready_spares,
        "order_by": day(line.order_by),
    }


def day(value: Any) -> str | None:
    return value.isoformat() if value else None
