"""The lines of a CSV file as they stand, whatever spreadsheet wrote it."""

import csv
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import NamedTuple, TextIO

from django.utils.translation import gettext as _

from logbook.cell_text import unguarded
from logbook.importing.faults import Unreadable

DELIMITERS = ",;\t"
NEEDED = "observed_at"


class Line(NamedTuple):
    """A line that is not blank, by its number in the file."""

    no: int
    cells: list[str]


@contextmanager
def opened(path: Path) -> Iterator[TextIO]:
    try:
        with path.open(encoding="utf-8-sig", newline="") as file:
            yield file
    except UnicodeDecodeError as error:
        sentence = _("It is not UTF-8 text (byte %(byte)s): save it as 'CSV UTF-8'.")
        raise Unreadable(sentence % {"byte": error.start}) from error
    except csv.Error as error:
        raise Unreadable(_("It is no CSV file (%(why)s).") % {"why": error}) from error


def lines_of(file: TextIO, size: int, progress: Callable[[float], None]) -> Iterator[Line]:
    """The heading first, then every line that is not blank; cells without blanks around them."""
    heading = file.readline()
    while heading and not heading.strip():
        heading = file.readline()
    delimiter = delimiter_of(heading)
    file.seek(0)
    reader = csv.reader(counted(file, size, progress), delimiter=delimiter, strict=True)
    for row in reader:
        cells = [unguarded(cell.strip()) for cell in row]
        if any(cells):
            yield Line(reader.line_num, cells)


def counted(file: TextIO, size: int, progress: Callable[[float], None]) -> Iterator[str]:
    """The file's lines, telling which part of its bytes was read."""
    read = 0
    for number, line in enumerate(file):
        read += len(line)
        if number % 5000 == 0:
            progress(min(read / max(size, 1), 1.0))
        yield line


def delimiter_of(heading: str) -> str:
    """The sign between the columns: the one that sets ``observed_at`` apart."""
    for sign in DELIMITERS:
        names = [cell.strip().strip('"').split(" ")[0] for cell in heading.split(sign)]
        if NEEDED in names and len(names) > 1:
            return sign
    raise Unreadable(
        _(
            "Its first line must name the columns, 'observed_at' among them, with commas, "
            "semicolons or tabs between."
        )
    )
