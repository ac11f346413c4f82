"""What the signs are consistent with: rows of the table by how well they fit, or 'no match'. Pure.

Each row says of every sign whether it should be up, down, either, or where it always is. The signs
are weighed against the row by likelihood, and all rows against 'something else': that any region of
the plant may stand anywhere, without a reason.
"""

from collections.abc import Collection, Sequence
from dataclasses import dataclass
from math import exp, log, pi, sqrt

from health.rules.sign_groups import REGIONS
from health.rules.signs import Sign
from health.rules.symptom_table import OTHER, OWN, ROWS, Context, Row, Shape, Signs, Want

NO_MATCH = "no match"
APART = " apart"
SHOWN, LEAST_SCORE = 3, 0.02
"""So many rows are told, and none below this score."""

MOVED = 1.5
"""Mean size of a sign that a fault moves: own choice, the sizes of faults are not known."""
BY_CHANCE, BY_CHANCE_SIZE = 0.001, 0.35
"""How often a sign that a row says nothing of stands out by itself, and how far."""
MISSED = 0.06
"""How often a sign that a row wants does not show yet."""
UNKNOWN_MOVES, WITH_IT_MOVES = 0.05, 0.1
"""The price of the first sign of a region that 'something else' moves, up or down, and of each more
there: what disturbs one meter of a water loop disturbs the others as well."""
ASIDE, UNSEEN = 0.2, 0.2
"""How often a row is asked about that says nothing of what stands out furthest, and one of which
nothing is seen yet that it surely wants: there is a flag, and these did not raise it."""
LEAST_SEEN = 0.5
"""From this part of what a flag wants a sign is seen at all."""
SURE = frozenset({Want.UP, Want.DOWN, Want.MOVED})
SUDDEN_DAYS = 1
"""Sudden is what came in no more days than this."""
FITS, FITS_NOT = 0.85, 0.15
"""How often a shape in time is as its row says, and how often not."""
WITH_CONTEXT, WITHOUT_CONTEXT = 6.0, 0.5
"""How much more often a row is met with what it goes with, and without."""
STRANGE = 100.0
STRANGE_CONTEXTS = frozenset({Context.WHILE_WARMING})
OF_THE_HEAT = frozenset({"heat", "rise", "above raw", "steam", "air"})
"""What no row goes with, and how much more often something else is met with it; and the signs that
are down with it."""
SHARES = {
    Want.UP: (1 - MISSED, 0.0),
    Want.DOWN: (0.0, 1 - MISSED),
    Want.MOVED: ((1 - MISSED) / 2, (1 - MISSED) / 2),
    Want.MAYBE_UP: (0.1, 0.0),
    Want.MAYBE_DOWN: (0.0, 0.1),
    Want.ANY: (0.08, 0.08),
}
"""How often a sign moves up, and down, by what a row says of it."""
LEAST = 1e-12
UNKNOWN_WEIGHT = 2.0
"""How much more often than one row something is met that no row describes."""


@dataclass(frozen=True)
class Match:
    """A row with its score, from 0 to 1 over all rows and 'no match' together; ``part``: of which
    tube, leg, loop or dial, '' for the whole."""

    id: str
    score: float
    part: str = ""


def ranked(signs: Sequence[Sign], contexts: Collection[str] = ()) -> list[Match]:
    """The rows that the signs are consistent with, the likeliest first.

    Parameters
    ----------
    signs : sequence of Sign
    contexts : collection of str
        What of ``Context`` the log tells of the last days.

    Returns
    -------
    list of Match
        At most SHOWN, none below LEAST_SCORE; NO_MATCH before them where that is the likeliest.

    Notes
    -----
    A sign where nothing is wrong is normal with its scatter; moved, it is exponential with MOVED. A
    row is weighed in the way and for the part that fits best. Scores are the rows' shares in the
    sum of all.

    Source
    ------
    Bayes' theorem; the figures are own choices, found on generated histories whose seeds are in no
    benchmark.

    Example
    -------
    >>> signs = [Sign("flow", "raw", -1.4), Sign("rise", "raw", 1.2)]
    >>> [match.id for match in ranked(signs)]
    ['S24']
    >>> ranked([*signs, Sign("drop", "", -2.5)])[0].id
    'no match'
    """
    found = [(log(UNKNOWN_WEIGHT) + unknown(signs) + of_strange(signs, contexts), NO_MATCH, "")]
    found += [
        (log(row.weight) + size, row.id, part)
        for row in ROWS
        if not row.is_context_needed or row.context in contexts
        for size, part in [fit(row, signs, contexts)]
    ]
    top = max(size for size, _id, _part in found)
    whole = sum(exp(size - top) for size, _id, _part in found)
    matches = [Match(name, exp(size - top) / whole, part) for size, name, part in found]
    matches.sort(key=lambda one: -one.score)
    is_match = matches[0].id != NO_MATCH
    rows = [one for one in matches if one.id != NO_MATCH and one.score >= LEAST_SCORE][:SHOWN]
    return rows if is_match else [matches[0], *rows]


def unknown(signs: Sequence[Sign]) -> float:
    """Log likelihood where each region of the plant may be moved for itself."""
    regions: dict[str, list[Sign]] = {}
    for one in once(signs, ""):
        regions.setdefault(REGIONS[one.name], []).append(one)
    return sum(unknown_there(own) for own in regions.values())


def unknown_there(signs: Sequence[Sign]) -> float:
    """The same of one region: all of it is where it always is, or any of it may be moved."""
    still = sum(log(max(normal(one), LEAST)) for one in signs)
    stirred = sum(log(max(normal(one), WITH_IT_MOVES * moved(one))) for one in signs)
    return max(still, log(UNKNOWN_MOVES / WITH_IT_MOVES) + stirred)


def fit(row: Row, signs: Sequence[Sign], contexts: Collection[str]) -> tuple[float, str]:
    """Log likelihood of a row in the way and for the part that fits best; and that part."""
    tried = [
        (
            of_signs(way, once(signs, part), part)
            + of_reason(way, signs, part)
            + of_shape(row, way, signs, part),
            part,
        )
        for way in row.ways
        for part in parts_of(way, signs)
    ]
    if not tried:
        return -float("inf"), ""
    best, part = max(tried)
    return best + of_context(row, contexts), part


def parts_of(way: Signs, signs: Sequence[Sign]) -> list[str]:
    """The parts that a way can speak of: those of the first sign that it wants of its own."""
    own = [name.removeprefix(f"{OWN} ") for name in way if name.startswith(f"{OWN} ")]
    if not own:
        return [""]
    return sorted({one.part for one in signs if one.name == own[0]})


def wanted(way: Signs, sign: Sign, part: str) -> Want:
    """What a row says of a sign: of the part in question, of the others, of all alike."""
    if part and sign.part:
        whose = OWN if sign.part == part else OTHER
        found = way.get(f"{whose} {sign.name}")
        if found is not None:
            return found
    return way.get(sign.name, Want.SAME)


def once(signs: Sequence[Sign], part: str) -> list[Sign]:
    """How far a pair is apart stands with each of the two: here it counts once, with the part in
    question if it is one of them."""
    found: dict[tuple[str, str], Sign] = {}
    for one in signs:
        key = (one.name, "" if one.name.endswith(APART) else one.part)
        if key not in found or one.part == part:
            found[key] = one
    return list(found.values())


def of_signs(way: Signs, signs: Sequence[Sign], part: str) -> float:
    return sum(log(density(one, wanted(way, one, part))) for one in signs)


def density(sign: Sign, want: Want) -> float:
    """How likely a sign of this size is where a row wants this."""
    if want == Want.SAME:
        by_itself = exp(-abs(sign.size) / BY_CHANCE_SIZE) / (2 * BY_CHANCE_SIZE)
        return (1 - BY_CHANCE) * normal(sign) + BY_CHANCE * by_itself
    up, down = SHARES[want]
    return mixed(sign, up, down)


def mixed(sign: Sign, up: float, down: float) -> float:
    """Moved up or down by so large shares, else where it always is."""
    share = up if sign.size > 0 else down
    return (1 - up - down) * normal(sign) + share * moved(sign) + LEAST


def moved(sign: Sign) -> float:
    """The density of a sign's size, one way, where something moved it."""
    return exp(-abs(sign.size) / MOVED) / MOVED


def normal(sign: Sign) -> float:
    return exp(-((sign.size / sign.scatter) ** 2) / 2) / (sign.scatter * sqrt(2 * pi))


def of_strange(signs: Sequence[Sign], contexts: Collection[str]) -> float:
    """What no row goes with speaks for something else, where what stands out furthest is its."""
    if not signs or not STRANGE_CONTEXTS & set(contexts):
        return 0.0
    most = furthest(signs)
    return log(STRANGE) if most.name in OF_THE_HEAT and most.size < 0 else 0.0


def furthest(signs: Sequence[Sign]) -> Sign:
    return max(signs, key=lambda one: abs(one.size))


def of_reason(way: Signs, signs: Sequence[Sign], part: str) -> float:
    """Whether the row speaks of what stands out, and what it surely wants is there."""
    if not signs or abs(furthest(signs).size) < LEAST_SEEN:
        return 0.0
    is_aside = wanted(way, furthest(signs), part) == Want.SAME
    is_seen = any(is_there(one, wanted(way, one, part)) for one in signs)
    is_sure = not SURE.isdisjoint(way.values())
    return log(ASIDE) * is_aside + log(UNSEEN) * (is_sure and not is_seen)


def is_there(sign: Sign, want: Want) -> bool:
    """Whether a sign that is surely wanted is seen, the way it is wanted."""
    up, down = SHARES[want] if want in SURE else (0.0, 0.0)
    return abs(sign.size) >= LEAST_SEEN and (up if sign.size > 0 else down) > 0


def of_shape(row: Row, way: Signs, signs: Sequence[Sign], part: str) -> float:
    """How well the time fits in which the sign that stands out came."""
    if row.shape == Shape.ANY:
        return 0.0
    own = [one for one in signs if wanted(way, one, part) in SURE]
    if not own:
        return 0.0
    is_fit = is_sudden(furthest(own)) == (row.shape == Shape.SUDDEN)
    return log((FITS if is_fit else FITS_NOT) / 0.5)


def is_sudden(sign: Sign) -> bool:
    return sign.rising <= SUDDEN_DAYS


def of_context(row: Row, contexts: Collection[str]) -> float:
    if row.context is None:
        return 0.0
    return log(WITH_CONTEXT if row.context in contexts else WITHOUT_CONTEXT)
