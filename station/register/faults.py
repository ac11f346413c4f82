"""What is wrong with a register file, each with its place."""

from collections.abc import Iterable
from dataclasses import dataclass
from difflib import get_close_matches

from django.utils.translation import gettext as _


@dataclass(frozen=True)
class Fault:
    place: str
    sentence: str

    def __str__(self) -> str:
        return f"{self.place}: {self.sentence}"


def not_among(what: str, written: object, known: Iterable[str]) -> str:
    """A sentence for a word that is not one of those known, with the nearest one."""
    known = list(known)
    near = get_close_matches(str(written), known, n=1)
    sentence = _("'%(written)s' is not a known %(what)s.") % {"written": written, "what": what}
    if near:
        return f"{sentence} " + _("Did you mean '%(near)s'?") % {"near": near[0]}
    if known:
        return f"{sentence} " + _("Known: %(known)s.") % {"known": ", ".join(known)}
    return sentence
