"""The server for one machine."""

from argparse import ArgumentTypeError
from typing import Any

import waitress
from django.conf import settings
from django.core.management import call_command
from django.core.management.base import BaseCommand, CommandError, CommandParser
from django.core.wsgi import get_wsgi_application
from django.db import DatabaseError
from django.utils.translation import gettext as _

from station.first_run import is_first_run, setup_code
from station.signals import serving

THREADS = 8


def port_number(text: str) -> int:
    if not text.isdecimal() or not 0 < int(text) < 2**16:
        raise ArgumentTypeError(_("'%(text)s': write a port from 1 to 65535") % {"text": text})
    return int(text)


class Command(BaseCommand):
    help = "Serve the pages on one machine."
    requires_migrations_checks = True

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("--host", default="127.0.0.1", help="address to listen on")
        parser.add_argument("--port", type=port_number, default=8000)

    def handle(self, *args: Any, **options: Any) -> None:
        if not settings.DEBUG:
            call_command("collectstatic", interactive=False, verbosity=0)
        server = listening(options["host"], options["port"])
        url = f"http://{options['host']}:{options['port']}/"
        self.stdout.write(_("Serving at %(url)s; stop with Ctrl-C.") % {"url": url})
        if is_first_start():
            words = {"url": f"{url}start", "code": setup_code()}
            self.stdout.write(
                _("Nobody can sign in yet: open %(url)s, setup code %(code)s.") % words
            )
        self.stdout.flush()
        serving.send(sender=Command)
        server.run()


def is_first_start() -> bool:
    """Whether nobody can sign in yet."""
    try:
        return is_first_run()
    except DatabaseError as error:
        raise CommandError(_("The database has no tables yet: run 'migrate' first.")) from error


def listening(host: str, port: int) -> Any:
    """The server with its socket open; the application finds the static files collected."""
    try:
        return waitress.create_server(
            get_wsgi_application(), host=host, port=port, threads=THREADS, ident=None
        )
    except (OSError, ValueError) as error:
        sentence = _("Cannot listen on %(host)s port %(port)s (%(error)s): choose another --port.")
        raise CommandError(sentence % {"host": host, "port": port, "error": error}) from error
