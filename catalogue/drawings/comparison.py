"""Up to four shoes laid over each other: for each score one axis, on it a line a shoe with its uncertainty."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from django.utils.safestring import SafeString

from catalogue.domain.scatter import Axis, axis_over
from catalogue.drawings.shapes import DrawnTick, px
from catalogue.presentation.comparing import LETTERS
from catalogue.presentation.words import SCORE_NAMES
from catalogue.selectors import ShoeRow
from core.web import display
from core.web.jinja import fragment

HEAD, LINE, FOOT = 24.0, 24.0, 30.0
CAP = 5.0


@dataclass(frozen=True, slots=True)
class Style:
    """The measures of one kind of drawing, px."""

    kind: str
    length: float
    edge: float


WIDE = Style("strip", length=640.0, edge=24.0)
SMALL = Style("strip-small", length=280.0, edge=24.0)


@dataclass(frozen=True, slots=True)
class DrawnValue:
    """One score of one shoe: middle, whisker with caps ("" where the uncertainty is not known), what to say."""

    letter: str
    title: str
    band_order: int
    x: str
    y: str
    whisker: str


@dataclass(frozen=True, slots=True)
class DrawnScore:
    name: str
    top: str
    bottom: str
    values: tuple[DrawnValue, ...]


@dataclass(frozen=True, slots=True)
class Comparison:
    """A comparison ready to be written down."""

    kind: str
    width: str
    height: str
    left: str
    right: str
    ticks: tuple[DrawnTick, ...]
    scores: tuple[DrawnScore, ...]


def draw(shoes: Sequence[ShoeRow], style: Style) -> Comparison:
    """Draw the four scores of some shoes over one axis for all, whiskers included."""
    reach = [
        score.value + side * (score.expanded_uncertainty or 0.0)
        for shoe in shoes
        for score in shoe.scores().values()
        for side in (-1, 1)
    ]
    axis = axis_over(reach, style.length)
    block = HEAD + LINE * len(shoes) + 8.0
    drawn = [_score(name, shoes, axis, (style.edge, place * block)) for place, name in enumerate(SCORE_NAMES)]
    height = block * len(SCORE_NAMES)
    ticks = [DrawnTick(px(style.edge + place), px(height), display.number(value, 0)) for value, place in axis.ticks()]
    return Comparison(
        kind=style.kind,
        width=px(style.length + 2 * style.edge),
        height=px(height + FOOT),
        left=px(style.edge),
        right=px(style.edge + style.length),
        ticks=tuple(ticks),
        scores=tuple(drawn),
    )


def _score(name: str, shoes: Sequence[ShoeRow], axis: Axis, corner: tuple[float, float]) -> DrawnScore:
    left, top = corner
    values = []
    for line, (letter, shoe) in enumerate(zip(LETTERS, shoes, strict=False)):
        score, y = shoe.scores()[name], top + HEAD + LINE * (line + 0.5)
        ends = axis.whisker(score.value, score.expanded_uncertainty)
        spread = "" if score.expanded_uncertainty is None else f" ± {display.number(score.expanded_uncertainty)}"
        values.append(
            DrawnValue(
                letter=letter,
                title=f"{shoe.title}: {SCORE_NAMES[name].lower()} {display.number(score.value)}{spread}",
                band_order=shoe.band.order,
                x=px(left + axis.along(score.value)),
                y=px(y),
                whisker=_whisker(left, y, ends) if ends else "",
            )
        )
    return DrawnScore(SCORE_NAMES[name], px(top + 16.0), px(top + HEAD + LINE * len(shoes) + 4.0), tuple(values))


def _whisker(left: float, y: float, ends: tuple[float, float]) -> str:
    caps = "".join(f"M{px(left + end)} {px(y - CAP)}v{px(2 * CAP)}" for end in ends)
    return f"M{px(left + ends[0])} {px(y)}H{px(left + ends[1])}{caps}"


def comparison_markup(shoes: Sequence[ShoeRow]) -> SafeString:
    """Return the drawings for wide screens and for phones as SVG; the table beside them says the same."""
    label = f"The four scores of {display.listed([shoe.title for shoe in shoes])}"
    return SafeString(
        "".join(
            fragment("catalogue/comparison.html", drawing=draw(shoes, style), label=label) for style in (WIDE, SMALL)
        )
    )
