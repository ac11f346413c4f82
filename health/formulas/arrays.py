"""What every formula shares: numbers in, floats out, missing where nothing can be said."""

import numpy as np
import numpy.typing as npt

Values = npt.ArrayLike
Result = npt.NDArray[np.float64]


def floats(values: Values) -> Result:
    return np.asarray(values, dtype=np.float64)


def divided(numerator: Values, denominator: Values) -> Result:
    """The quotient, missing where either is missing or the denominator is not above 0."""
    above, below = floats(numerator), floats(denominator)
    missing = np.full(np.broadcast(above, below).shape, np.nan)
    return np.asarray(np.divide(above, below, out=missing, where=below > 0))


def where(is_valid: npt.NDArray[np.bool_], values: Result) -> Result:
    """The values where they are valid, missing elsewhere."""
    return np.asarray(np.where(is_valid, values, np.nan))
