"""A multivariate chart: what is strange together though each column is within its own bounds. Pure.

A weighted mean of each column, and Hotelling's statistic of all of them (MEWMA), from a reference
that may be autocorrelated, coarse and short.
"""

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
from scipy import special

Values = npt.ArrayLike
Numbers = npt.NDArray[np.float64]
Marks = npt.NDArray[np.bool_]

BLOCKS = 5
"""Into how many parts a reference is cut, each held against the rest: common practice, no
source."""
MOST_RELATED = 0.9
"""Autocorrelation beyond which a short reference says nothing of it: common practice, no source."""


@dataclass(frozen=True)
class Weighted:
    """Weighted means of columns from 0 on, and how much of each stands behind them (0 to 1)."""

    mean: Numbers
    behind: Numbers


@dataclass(frozen=True)
class Chart:
    """What a reference says of its columns.

    Attributes
    ----------
    centre, sigma : by column, in its unit; sigma is what a weighted mean of independent values
        would need to scatter as this one does
    correlation : of the columns, shrunk
    weight : of the newest row
    """

    centre: Numbers
    sigma: Numbers
    correlation: Numbers
    weight: float


def weighted_means(rows: Values, weight: float) -> Weighted:
    """Exponentially weighted means, column by column.

    Parameters
    ----------
    rows : array_like [any units]
        Rows in the order of time x columns; what is missing (NaN) leaves its mean as it was.
    weight : float [1]
        Of the newest row, above 0 to 1.

    Returns
    -------
    Weighted
        ``mean`` [the same units], ``behind`` [1], both of the shape of ``rows``.

    Notes
    -----
    z = w x + (1 - w) z' from z = 0; behind = 1 - (1 - w)^k after k values. The mean about any
    centre c is then z - c behind.

    Source
    ------
    Lowry, Woodall, Champ and Rigdon, A multivariate exponentially weighted moving average control
    chart, Technometrics 34(1), 1992.

    Example
    -------
    >>> found = weighted_means([[4.0], [np.nan], [8.0]], weight=0.5)
    >>> found.mean.ravel().tolist(), found.behind.ravel().tolist()
    ([2.0, 2.0, 5.0], [0.5, 0.5, 0.75])
    """
    table = np.asarray(rows, dtype=np.float64)
    is_known = ~np.isnan(table)
    new = np.where(is_known, weight * table, 0.0)
    kept = np.where(is_known, 1 - weight, 1.0)
    means, behind = np.zeros(table.shape), np.zeros(table.shape)
    mean, share = np.zeros(table.shape[1]), np.zeros(table.shape[1])
    for place in range(len(table)):
        mean = new[place] + kept[place] * mean
        share = weight * is_known[place] + kept[place] * share
        means[place], behind[place] = mean, share
    return Weighted(means, behind)


def shrunk_correlation(deviations: Values) -> Numbers:
    """Correlation of columns that can be inverted, however few the rows.

    Parameters
    ----------
    deviations : array_like [1]
        Rows x columns, each from its column's centre in its sigmas; missing ones are 0, which
        draws the correlation to none.

    Returns
    -------
    ndarray [1]
        Columns x columns, positive definite, with ones in its diagonal.

    Notes
    -----
    S* = a m I + (1 - a) S, m the mean of the variances, a = b^2 / d^2 the part that sampling
    makes of the distance d of S from m I; then scaled to a correlation. Without any deviation I.

    Source
    ------
    Ledoit and Wolf, A well-conditioned estimator for large-dimensional covariance matrices,
    Journal of Multivariate Analysis 88(2), 2004.

    Example
    -------
    >>> shrunk_correlation([[1.0, 1.0], [-1.0, -1.0], [1.0, -1.0], [-1.0, 1.0]]).tolist()
    [[1.0, 0.0], [0.0, 1.0]]
    """
    table = np.asarray(deviations, dtype=np.float64)
    count, columns = table.shape
    target = np.eye(columns)
    covariance = table.T @ table / max(count, 1)
    mean = np.trace(covariance) / max(columns, 1)
    apart = float(((covariance - mean * target) ** 2).sum())
    if apart <= 0:
        return target
    lengths = float(((table**2).sum(axis=1) ** 2).sum()) / count
    by_chance = (lengths - float((covariance**2).sum())) / count
    part = min(max(by_chance, 0.0) / apart, 1.0)
    shrunk = part * mean * target + (1 - part) * covariance
    scale = np.sqrt(np.diag(shrunk))
    return np.asarray(shrunk / np.outer(scale, scale))


def related_factor(autocorrelation: Values, weight: float) -> Numbers:
    """How much wider a weighted mean scatters when its values are related to the one before.

    Parameters
    ----------
    autocorrelation : array_like [1]
        Of neighbours, -1 to 1, not 1 itself.
    weight : float [1]
        Of the newest value, above 0 to 1.

    Returns
    -------
    ndarray [1]
        Standard deviation over that of independent values.

    Notes
    -----
    sqrt((1 + f (1 - w)) / (1 - f (1 - w))) for a first-order autoregression.

    Source
    ------
    The variance of an exponentially weighted mean of a first-order autoregression; as in Schmid,
    On EWMA charts for time series, 1997 (from memory), and derived again here.

    Example
    -------
    >>> related_factor([0.0, 0.5], weight=0.5).round(3).tolist()
    [1.0, 1.291]
    """
    kept = np.asarray(autocorrelation, dtype=np.float64) * (1 - weight)
    return np.asarray(np.sqrt((1 + kept) / (1 - kept)))


def fitted(reference: Values, *, weight: float, floor: Values) -> Chart:
    """The chart of a reference.

    Parameters
    ----------
    reference : array_like [any units]
        Rows in the order of time x columns; NaN is missing.
    weight : float [1]
        Of the newest row, above 0 to 1.
    floor : array_like [the columns' units]
        The least sigma of each column, above 0: half a step or more, so that a coarse or a
        constant column can be divided by.

    Returns
    -------
    Chart

    Notes
    -----
    Centre and sigma are mean and standard deviation of what is known; sigma is widened by
    ``related_factor`` with the autocorrelation of neighbours in the reference, from 0 to 0.9.

    Source
    ------
    Lowry et al. 1992; correlation by Ledoit and Wolf 2004.

    Example
    -------
    >>> chart = fitted([[1.0, 5.0], [2.0, 5.0], [3.0, 5.0]] * 5, weight=0.5, floor=[0.1, 0.1])
    >>> chart.centre.tolist(), chart.sigma.round(2).tolist()
    ([2.0, 5.0], [0.85, 0.1])
    """
    table = np.asarray(reference, dtype=np.float64)
    is_known = ~np.isnan(table)
    count = np.maximum(is_known.sum(axis=0), 1)
    centre = np.where(is_known, table, 0.0).sum(axis=0) / count
    apart = np.where(is_known, table - centre, 0.0)
    squares = (apart**2).sum(axis=0)
    sigma = np.maximum(np.sqrt(squares / np.maximum(count - 1, 1)), floor)
    products = (apart[1:] * apart[:-1]).sum(axis=0)
    related = np.where(squares > 0, products / np.where(squares > 0, squares, 1.0), 0.0)
    wider = related_factor(np.clip(related, 0.0, MOST_RELATED), weight)
    return Chart(centre, sigma * wider, shrunk_correlation(apart / sigma), weight)


def usual_size(reference: Values, *, weight: float, floor: Values) -> float:
    """How large the statistic becomes by itself in a fifth of a reference's length.

    Parameters
    ----------
    reference : array_like [any units]
    weight : float [1]
    floor : array_like [the columns' units]
        All three as of ``fitted``.

    Returns
    -------
    float [1]
        Not below ``least_usual``.

    Notes
    -----
    The reference is cut into 5 parts in the order of time; each is judged by the chart of the
    other four, and the mean of the largest statistics is taken. So a limit stands on how the
    columns behave in fact, related to themselves and rounded, on rows that the chart has not seen.

    Source
    ------
    Derived here.

    Example
    -------
    >>> round(usual_size([[1.0], [2.0], [3.0], [2.0], [9.0]], weight=1.0, floor=[0.5]), 2)
    14.96
    """
    table = np.asarray(reference, dtype=np.float64)
    means = weighted_means(table, weight)
    largest = [
        sizes(fitted(table[~part], weight=weight, floor=floor), part_of(means, part)).max()
        for part in parts(len(table))
    ]
    return max(float(np.mean(largest)), least_usual(*table.shape))


def least_usual(rows: int, columns: int) -> float:
    """The statistic that one row of a reference passes by chance.

    Parameters
    ----------
    rows, columns : int [1]
        Of the reference; at least two rows are reckoned with.

    Returns
    -------
    float [1]

    Notes
    -----
    The value that chi square of so many degrees of freedom passes with the chance 1 / rows: a
    reference that never moves, or by luck hardly did, does not make the limit nothing.

    Source
    ------
    Chi square as the law of the statistic with a known covariance: Lowry et al. 1992.

    Example
    -------
    >>> round(least_usual(rows=100, columns=2), 2)
    9.21
    """
    return float(special.chdtri(columns, 1 / max(rows, 2)))


def parts(length: int) -> Iterator[Marks]:
    """The rows of each part of a reference."""
    for rows in np.array_split(np.arange(length), BLOCKS):
        if rows.size:
            part = np.zeros(length, dtype=bool)
            part[rows] = True
            yield part


def part_of(means: Weighted, rows: Marks) -> Weighted:
    return Weighted(means.mean[rows], means.behind[rows])


def scores(chart: Chart, means: Weighted) -> Numbers:
    """The weighted means as one score a column, unrelated to each other.

    Parameters
    ----------
    chart : Chart
    means : Weighted [the columns' units]
        Of rows x columns, with the chart's weight.

    Returns
    -------
    ndarray [1]
        Rows x columns; 0 where nothing stands behind a mean. Each is as near to its own column as
        unrelated scores can be, and their squares add up to the statistic.

    Notes
    -----
    R^(-1/2) (z - c) / sigma_z with sigma_z^2 = sigma^2 w / (2 - w) (1 - (1 - w)^(2k)).

    Source
    ------
    The corr-max transformation of Garthwaite and Koch, Evaluating the contributions of individual
    variables to a quadratic form, Australian and New Zealand Journal of Statistics 58(1), 2016
    (from memory).

    Example
    -------
    >>> chart = Chart(np.zeros(2), np.ones(2), np.array([[1.0, 0.6], [0.6, 1.0]]), weight=1.0)
    >>> scores(chart, weighted_means([[1.0, -1.0]], 1.0)).round(3).tolist()
    [[1.581, -1.581]]
    """
    values, vectors = np.linalg.eigh(chart.correlation)
    apart = distances(chart, means)
    return np.asarray(apart @ (vectors / np.sqrt(values)) @ vectors.T)


def distances(chart: Chart, means: Weighted) -> Numbers:
    """The weighted means from their centres, in their own sigmas."""
    variance = chart.weight / (2 - chart.weight) * (1 - (1 - means.behind) ** 2)
    is_known = variance > 0
    away = (means.mean - chart.centre * means.behind) / chart.sigma
    return np.where(is_known, away / np.sqrt(np.where(is_known, variance, 1.0)), 0.0)


def sizes(chart: Chart, means: Weighted) -> Numbers:
    """Hotelling's statistic of the weighted means, row by row.

    Parameters
    ----------
    chart : Chart
    means : Weighted [the columns' units]

    Returns
    -------
    ndarray [1]
        0 or more.

    Notes
    -----
    T^2 = z' S_z^-1 z. With weight 1, independent rows and a known covariance it goes as chi
    square with as many degrees of freedom as there are columns.

    Source
    ------
    Lowry, Woodall, Champ and Rigdon, Technometrics 34(1), 1992.

    Example
    -------
    >>> chart = Chart(np.zeros(2), np.ones(2), np.array([[1.0, 0.6], [0.6, 1.0]]), weight=1.0)
    >>> sizes(chart, weighted_means([[1.0, 1.0], [1.0, -1.0]], 1.0)).round(3).tolist()
    [1.25, 5.0]
    """
    apart = distances(chart, means)
    return np.asarray((apart * np.linalg.solve(chart.correlation, apart.T).T).sum(axis=1))


def shares(of_scores: Values) -> Numbers:
    """Which part of a statistic each column carries.

    Parameters
    ----------
    of_scores : array_like [1]
        One row of ``scores``.

    Returns
    -------
    ndarray [1]
        0 to 1, together 1; all 0 where there is nothing to carry.

    Notes
    -----
    score^2 / T^2.

    Source
    ------
    Garthwaite and Koch 2016 (from memory).

    Example
    -------
    >>> shares([3.0, -1.0]).tolist()
    [0.9, 0.1]
    """
    squares = np.asarray(of_scores, dtype=np.float64) ** 2
    whole = squares.sum()
    return np.asarray(squares / whole if whole > 0 else squares)
