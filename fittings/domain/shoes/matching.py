"""Which shoes answer a need: probability first, then what the person can have and wear, each in words.

Order of the shoes in the target: those to be had in the size (here or in a sister store) first, then probability in
steps (5 % by `M1`), the same use, stock here, the cushioning wish, a drop near the present one, and how near the middle
of the target the score lies; shoes alike in all of these keep the order they came in. Common practice, no source.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import ArrayLike, NDArray

from core.domain.coverage import below
from fittings.domain.fitting.need import USES
from fittings.domain.shoes.match_rules import M1, MatchRules

Floats = NDArray[np.float64]
Bools = NDArray[np.bool_]

LEFT_OUT_SHOWN = 50
PROBABILITY_WORDS = "probability that its true stability is in the target"

USES_ACCEPTED: dict[str, tuple[str, ...]] = {
    "running": ("running",),
    "walking": ("walking", "running"),
    "standing": ("standing", "walking", "running"),
}
"""Uses of a shoe that serve a use of a person; common practice, no source."""


@dataclass(frozen=True, slots=True)
class Candidates:
    """Measured shoes, one position each in every field; NaN where a number is not known.

    `df` are the degrees of freedom of u, NaN where unlimited; None where all are. `here` and `sister` say whether the
    wanted size is in stock in the store of the fitting and in another store.
    """

    slug: Sequence[str]
    use: Sequence[str]
    band: Sequence[str]
    stability: Floats
    u: Floats
    cushioning: Floats
    drop_mm: Floats
    runner_mass_max_kg: Floats
    here: Bools
    sister: Bools
    provisional: Bools
    borderline: Bools
    discontinued: Bools
    df: Floats | None = None


@dataclass(frozen=True, slots=True)
class Wish:
    """The target and what else the person brings; None where not known."""

    low: float
    high: float
    use: str
    body_mass_kg: float | None = None
    size: str | None = None
    current_slug: str | None = None
    current_drop_mm: float | None = None
    cushioning: Literal["more", "less"] | None = None


@dataclass(frozen=True, slots=True)
class Suggestion:
    """One shoe shown; `index` is its place among the candidates, `probability` None where its u is unknown."""

    slug: str
    index: int
    stability: float
    probability: float | None
    in_target: bool
    reasons: tuple[str, ...]
    warnings: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class LeftOut:
    """One shoe not shown, and why."""

    slug: str
    why: str


@dataclass(frozen=True, slots=True)
class Match:
    """The shoes shown, best first, and those left out, nearest to the target first."""

    nothing_in_range: bool
    results: tuple[Suggestion, ...]
    left_out: tuple[LeftOut, ...]


def probability_within(
    stability: ArrayLike, u: ArrayLike, low: float, high: float, *, df: ArrayLike | None = None
) -> Floats:
    """Probability that the true stability lies in [low, high].

    Parameters
    ----------
    stability : array_like, shape (n,)
        Measured stability scores, points.
    u : array_like, shape (n,)
        Their standard uncertainties, points, 0 or more; NaN where not known.
    low, high : float
        The target, points, low ≤ high.
    df : array_like, shape (n,), or None
        Effective degrees of freedom of u; NaN or infinite where unlimited, None where all are.

    Returns
    -------
    ndarray, shape (n,)
        By Student's t, the normal distribution where degrees of freedom are unlimited; NaN where `u` is not known (no
        uncertainty is made up); where `u` is 0, 1 inside and 0 outside.

    Raises
    ------
    ValueError
        When an uncertainty is negative, low is above high, or an edge is not finite.

    Notes
    -----
    The difference is taken in the lower tail on both sides of the target, so that far shoes keep their digits.

    References
    ----------
    .. [1] JCGM 106:2012, conformity probability with a wide prior.
    .. [2] JCGM 101:2008, 6.4.9: a scaled and shifted t-distribution.

    Examples
    --------
    >>> float(probability_within([10.0], [0.5], 9.0, 11.0)[0].round(6))
    0.9545
    """
    score = np.asarray(stability, dtype=np.float64)
    spread = np.asarray(u, dtype=np.float64)
    if not (np.isfinite(low) and np.isfinite(high)) or low > high:
        raise ValueError(f"low must be <= high and both finite, got {low!r} and {high!r}")
    if np.any(spread < 0):
        raise ValueError(f"u must be >= 0, got {float(np.nanmin(spread))!r}")
    safe = np.where(spread > 0, spread, 1.0)
    lower, upper = (low - score) / safe, (high - score) / safe
    mirrored = lower > 0
    dfs = np.inf if df is None else np.asarray(df, dtype=np.float64)
    chance = np.where(mirrored, below(-lower, dfs) - below(-upper, dfs), below(upper, dfs) - below(lower, dfs))
    exact = ((score >= low) & (score <= high)).astype(np.float64)
    chance = np.where(spread == 0, exact, chance)
    return np.where(np.isnan(spread), np.nan, chance)


def match(
    candidates: Candidates, wish: Wish, *, limit: int = 10, asked: Sequence[str] = (), rules: MatchRules = M1
) -> Match:
    """Rank measured shoes against a need.

    Parameters
    ----------
    candidates : Candidates
        Shoes to choose from, n of them; stability must be finite.
    wish : Wish
        Target interval and what the person brings.
    limit : int
        How many are shown at most, 1 or more.
    asked : sequence of str
        Slugs that are always answered for, even when they would fall off the end of the list of those left out.
    rules : MatchRules

    Returns
    -------
    Match
        Shoes whose measured stability is in the target (edges included) and that pass use and the band's mass rule.
        With none, the nearest that pass (three by `M1`), each named as outside the target.

    Raises
    ------
    ValueError
        When `limit` is below 1, the use is unknown, or a stability is not finite.

    Notes
    -----
    A shoe with unknown uncertainty has no probability: it is shown by its measured value, behind those with one, with
    a warning.

    Examples
    --------
    >>> one, no = np.array([62.0]), np.array([False])
    >>> shoes = Candidates(["a"], ["running"], ["Medium"], one, one / 62, one, one, one * np.nan, ~no, no, no, no, no)
    >>> match(shoes, Wish(60.0, 70.0, "running")).results[0].slug
    'a'
    """
    _check(candidates, wish, limit)
    judged = _judge(candidates, wish, rules)
    by_merit = _order(judged)
    ranked = by_merit[judged.inside[by_merit]]
    nothing = ranked.size == 0
    if nothing:
        by_distance = np.lexsort((by_merit.argsort(), judged.outside_by))
        shown = by_distance[judged.suitable[by_distance]][: min(limit, rules.nearest_shown)]
    else:
        shown = ranked[:limit]
    results = tuple(_suggestion(judged, i) for i in shown.tolist())
    rank = {i: place for place, i in enumerate(ranked.tolist(), start=1)}
    left_out = (
        LeftOut(candidates.slug[i], _why_not(judged, i, rank.get(i), shown.size))
        for i in _left_out_order(judged, shown, asked)
    )
    return Match(nothing, results, tuple(left_out))


@dataclass(frozen=True, slots=True)
class _Judged:
    """The candidates and the wish, with what was found of each candidate."""

    candidates: Candidates
    wish: Wish
    rules: MatchRules
    chance: Floats
    outside_by: Floats
    use_rank: NDArray[np.int64]
    too_heavy: Bools
    drop_changes: Bools

    @property
    def suitable(self) -> Bools:
        return np.asarray((self.use_rank >= 0) & ~self.too_heavy, dtype=np.bool_)

    @property
    def inside(self) -> Bools:
        return np.asarray(self.suitable & (self.outside_by == 0), dtype=np.bool_)


def _judge(candidates: Candidates, wish: Wish, rules: MatchRules) -> _Judged:
    below, above = wish.low - candidates.stability, candidates.stability - wish.high
    return _Judged(
        candidates,
        wish,
        rules,
        chance=probability_within(candidates.stability, candidates.u, wish.low, wish.high, df=candidates.df),
        outside_by=np.maximum(np.maximum(below, above), 0.0),
        use_rank=_use_rank(candidates, wish),
        too_heavy=_too_heavy(candidates, wish),
        drop_changes=_drop_changes(candidates, wish, rules),
    )


def _check(candidates: Candidates, wish: Wish, limit: int) -> None:
    if limit < 1:
        raise ValueError(f"limit must be >= 1, got {limit}")
    if wish.use not in USES_ACCEPTED:
        raise ValueError(f"use must be one of {', '.join(USES_ACCEPTED)}, got {wish.use!r}")
    if not np.all(np.isfinite(candidates.stability)):
        raise ValueError("stability must be finite for every candidate")


def _use_rank(candidates: Candidates, wish: Wish) -> NDArray[np.int64]:
    """0 for the same use, 1 and up for others that serve, −1 for those that do not."""
    accepted = USES_ACCEPTED[wish.use]
    ranks = {use: rank for rank, use in enumerate(accepted)}
    return np.fromiter((ranks.get(use, -1) for use in candidates.use), dtype=np.int64, count=len(candidates.use))


def _too_heavy(candidates: Candidates, wish: Wish) -> Bools:
    if wish.use != "running" or wish.body_mass_kg is None:
        return np.zeros(candidates.stability.shape, dtype=np.bool_)
    return np.asarray(wish.body_mass_kg > candidates.runner_mass_max_kg, dtype=np.bool_)


def _order(judged: _Judged) -> NDArray[np.intp]:
    candidates = judged.candidates
    # Certainty itself is no step of its own: 1 belongs with what is just below it.
    width = judged.rules.probability_step
    known = np.where(np.isnan(judged.chance), -1.0, np.minimum(judged.chance, 1.0 - width / 2))
    step = np.floor(known / width)
    off_centre = np.abs(candidates.stability - (judged.wish.low + judged.wish.high) / 2)
    available = candidates.here | candidates.sister
    softness = _softness(judged)
    keys = (-off_centre, ~judged.drop_changes, softness, candidates.here, -judged.use_rank, step, available)
    return np.lexsort(tuple(-np.asarray(key, dtype=np.float64) for key in keys))


def _softness(judged: _Judged) -> Floats:
    """Cushioning in the direction wished, more is better; without a wish all are alike, and unknown comes last."""
    sign = {None: 0.0, "more": 1.0, "less": -1.0}[judged.wish.cushioning]
    if sign == 0.0:
        return np.zeros(judged.chance.shape)
    cushioning = judged.candidates.cushioning
    return np.where(np.isnan(cushioning), -np.inf, sign * cushioning)


def _drop_changes(candidates: Candidates, wish: Wish, rules: MatchRules) -> Bools:
    if wish.current_drop_mm is None:
        return np.zeros(candidates.stability.shape, dtype=np.bool_)
    change = np.abs(candidates.drop_mm - wish.current_drop_mm)
    # Drops are given to a tenth of a millimetre: 12.1 - 8.1 must not count as more than 4.
    return np.asarray(np.round(change, 6) > rules.drop_change_warned_mm, dtype=np.bool_)


def _left_out_order(judged: _Judged, shown: NDArray[np.intp], asked: Sequence[str]) -> list[int]:
    taken = np.zeros(judged.chance.shape, dtype=np.bool_)
    taken[shown] = True
    nearest = np.argsort(judged.outside_by, kind="stable")
    nearest = nearest[~taken[nearest]]
    wanted = set(asked)
    first = [i for i in nearest.tolist() if judged.candidates.slug[i] in wanted] if wanted else []
    rest = [i for i in nearest[: LEFT_OUT_SHOWN + len(first)].tolist() if i not in set(first)]
    return first + rest[: max(LEFT_OUT_SHOWN - len(first), 0)]


def _suggestion(judged: _Judged, i: int) -> Suggestion:
    chance = float(judged.chance[i])
    return Suggestion(
        slug=judged.candidates.slug[i],
        index=i,
        stability=float(judged.candidates.stability[i]),
        probability=None if np.isnan(chance) else chance,
        in_target=bool(judged.outside_by[i] == 0),
        reasons=_reasons(judged, i),
        warnings=_warnings(judged, i),
    )


def _percent_words(chance: float) -> str:
    """Whole percent; never 0 or 100 for what is only nearly so."""
    if chance < 0.005:
        return "Less than 1 %"
    return "More than 99 %" if chance >= 0.995 else f"{100 * chance:.0f} %"


def _target_words(wish: Wish) -> str:
    return f"the target {wish.low:.1f} to {wish.high:.1f}"


def _reasons(judged: _Judged, i: int) -> tuple[str, ...]:
    shoes, wish = judged.candidates, judged.wish
    score = f"{shoes.stability[i]:.1f} ({shoes.band[i]})"
    if judged.outside_by[i] == 0:
        reasons = [f"Stability {score} is in {_target_words(wish)}"]
    else:
        reasons = [f"Nearest to {_target_words(wish)}: stability {score}"]
    if not np.isnan(judged.chance[i]):
        chance = _percent_words(float(judged.chance[i]))
        reasons.append(f"{chance} {PROBABILITY_WORDS}")
    if shoes.use[i] == wish.use:
        reasons.append(f"Made for {USES[wish.use]}")
    if shoes.here[i] or shoes.sister[i]:
        place = "here" if shoes.here[i] else "in a sister store"
        reasons.append(f"In stock {place}" if wish.size is None else f"{wish.size} in stock {place}")
    if wish.cushioning is not None and not np.isnan(shoes.cushioning[i]):
        feel = {"more": "softer", "less": "firmer"}[wish.cushioning]
        reasons.append(
            f"Cushioning {shoes.cushioning[i]:.1f}: of shoes otherwise alike the {feel} come first, as wished"
        )
    if shoes.slug[i] == wish.current_slug:
        reasons.append("The shoe worn now")
    return tuple(reasons)


def _warnings(judged: _Judged, i: int) -> tuple[str, ...]:
    shoes, wish = judged.candidates, judged.wish
    checks = (
        (judged.outside_by[i] > 0, f"Outside the target by {judged.outside_by[i]:.1f}"),
        (np.isnan(judged.chance[i]), "Uncertainty of its score is not known, so no probability is given"),
        (shoes.use[i] != wish.use, f"Made for {USES.get(shoes.use[i], shoes.use[i])}"),
        (not (shoes.here[i] or shoes.sister[i]), f"{wish.size or 'Any size'}: not in any store at present"),
        (shoes.discontinued[i], "No longer made"),
        (judged.drop_changes[i], _drop_words(float(shoes.drop_mm[i]), wish)),
        (shoes.borderline[i], f"Borderline: its band {shoes.band[i]} is less than 80 % certain"),
        (shoes.provisional[i], "Provisional: fewer than two specimens were tested"),
    )
    return tuple(words for applies, words in checks if applies)


def _drop_words(drop_mm: float, wish: Wish) -> str:
    now = wish.current_drop_mm or 0.0
    change = "more" if drop_mm > now else "less"
    return f"Drop {drop_mm:g} mm, {abs(drop_mm - now):.1f} mm {change} than the shoe worn now; change over slowly"


def _why_not(judged: _Judged, i: int, rank: int | None, shown: int) -> str:
    shoes, wish = judged.candidates, judged.wish
    if rank is not None:
        return f"In the target, ranked {rank}; the list shows {shown}"
    if judged.use_rank[i] < 0:
        return f"Made for {USES.get(shoes.use[i], shoes.use[i])}, the fitting is for {USES[wish.use]}"
    if judged.too_heavy[i]:
        limit_kg = float(shoes.runner_mass_max_kg[i])
        return f"Band {shoes.band[i]} is for runners up to {limit_kg:g} kg, body mass is {wish.body_mass_kg:g} kg"
    side = "above" if shoes.stability[i] > wish.high else "below"
    return f"Stability {shoes.stability[i]:.1f} is {judged.outside_by[i]:.1f} {side} {_target_words(wish)}"
