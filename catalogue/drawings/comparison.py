"""Up to four shoes laid over each other: for each score one axis, on it a line a shoe with its uncertainty."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from django.utils.safestring import SafeString

from catalogue.domain.axes import Axis, axis_over
from catalogue.drawings.shapes import DrawnTick, px
from catalogue.presentation.comparing import LETTERS
from catalogue.presentation.words import SCORE_NAMES
from catalogue.selectors import ShoeRow
from core.web import display
from core.web.jinja import fragment

HEAD, FOOT = 24.0, 30.0
CAP = 5.0
NAME_MOST = 26


@dataclass(frozen=True, slots=True)
class Style:
    """The measures of one kind of drawing, px."""

    kind: str
    length: float
    left: float
    line: float
    # How far below the top of its line a shoe's name and its mark are drawn.
    name: float
    mark: float
    right: float = 24.0


WIDE = Style("strip", length=560.0, left=220.0, line=26.0, name=18.0, mark=13.0)
SMALL = Style("strip-small", length=312.0, left=12.0, line=40.0, name=14.0, mark=28.0, right=12.0)


@dataclass(frozen=True, slots=True)
class DrawnValue:
    """One score of one shoe: middle, whisker with caps ("" where the uncertainty is not known), what to say."""

    name: str
    title: str
    band_order: int
    x: str
    y: str
    name_y: str
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
    block = HEAD + style.line * len(shoes) + 8.0
    drawn = [_score(name, shoes, axis, style, place * block) for place, name in enumerate(SCORE_NAMES)]
    height = block * len(SCORE_NAMES)
    ticks = [DrawnTick(px(style.left + place), px(height), display.number(value, 0)) for value, place in axis.ticks()]
    return Comparison(
        kind=style.kind,
        width=px(style.left + style.length + style.right),
        height=px(height + FOOT),
        left=px(style.left),
        right=px(style.left + style.length),
        ticks=tuple(ticks),
        scores=tuple(drawn),
    )


def _score(name: str, shoes: Sequence[ShoeRow], axis: Axis, style: Style, top: float) -> DrawnScore:
    left = style.left
    values = []
    for line, (letter, shoe) in enumerate(zip(LETTERS, shoes, strict=False)):
        above = top + HEAD + style.line * line
        score, y = shoe.scores()[name], above + style.mark
        ends = axis.whisker(score.value, score.expanded_uncertainty)
        spread = "" if score.expanded_uncertainty is None else f" ± {display.number(score.expanded_uncertainty)}"
        values.append(
            DrawnValue(
                name=f"{letter} {_short(shoe.title)}",
                title=f"{shoe.title}: {SCORE_NAMES[name].lower()} {display.number(score.value)}{spread}",
                band_order=shoe.band.order,
                x=px(left + axis.along(score.value)),
                y=px(y),
                name_y=px(above + style.name),
                whisker=_whisker(left, y, ends) if ends else "",
            )
        )
    return DrawnScore(SCORE_NAMES[name], px(top + 16.0), px(top + HEAD + style.line * len(shoes) + 4.0), tuple(values))


def _short(title: str) -> str:
    """Return a name that fits beside the axis; the table has it whole."""
    return title if len(title) <= NAME_MOST else f"{title[: NAME_MOST - 1].rstrip()}…"


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
