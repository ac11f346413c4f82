"""Arguments that several commands take."""

from argparse import ArgumentTypeError
from pathlib import Path

from django.utils.translation import gettext as _


def readable(name: str) -> Path:
    path = Path(name)
    if not path.is_file():
        raise ArgumentTypeError(_("there is no file '%(name)s'") % {"name": name})
    return path
