#!/usr/bin/env python
"""Run a management command of the station's log."""

import os
import sys

from django.core.management import execute_from_command_line

from station.environment import make_secret

MAKES_SECRET = {"demo", "serve"}  # they must work on a machine where nothing is set

if __name__ == "__main__":
    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "station.settings")
    if MAKES_SECRET.intersection(sys.argv[1:2]) and not os.environ.get("SECRET_KEY"):
        make_secret()
    execute_from_command_line(sys.argv)
