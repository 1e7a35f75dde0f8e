"""Markup that long pages repeat, written here and not in a template: there it took most of the time of the page.

Every value is escaped when it is put in.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from functools import lru_cache
from html import escape
from typing import TYPE_CHECKING, Any

from django.utils.safestring import SafeString

from core.web import display

if TYPE_CHECKING:
    from catalogue.presentation.comparing import DifferenceText
    from catalogue.presentation.lists import Chip, Loosened, ViewLink
    from catalogue.presentation.shoes import ShoeText
    from catalogue.selectors import BandView

BAND = '<span class="band band--{order}">{name}{probability}</span>'
NOTE = ' <span class="tag tag--note">{}</span>'
ROW = """<tr>
      <th scope="row"><a href="{url}">{name}</a> <span class="shoe-table__brand">{brand}, {use}{gone}</span></th>
      <td class="shoe-table__band">{band}</td>
      <td class="num" data-label="Stability"><strong>{stability}</strong></td>
      <td class="num" data-label="Midfoot">{midfoot}</td>
      <td class="num" data-label="Rearfoot">{rearfoot}</td>
      <td class="num" data-label="Cushioning">{cushioning}</td>
      <td class="num" data-label="Mass">{mass}</td>
      <td class="num" data-label="Drop">{drop}</td>
      <td data-label="Sizes">{sizes}</td>
      <td class="shoe-table__pick"><label class="pick"><input type="checkbox" name="shoe" value="{slug}"><span>Compare\
<span class="visually-hidden"> {title}</span></span></label></td>
    </tr>
    """
ROW_TEXTS = ("url", "name", "brand", "use", "stability", "midfoot", "rearfoot", "cushioning", "mass", "drop", "sizes")
DIFFERENCE = (
    '<tr><th scope="row">{name}</th><td class="num" data-label="{title_here}">{here}</td>'
    '<td class="num" data-label="{title_there}">{there}</td><td class="num" data-label="Difference">{difference}</td>'
    '<td data-label="Amounts to">{verdict}</td><td class="num" data-label="Share of the distance">{share}</td></tr>'
)


def _texts(holder: Any, names: Iterable[str]) -> dict[str, str]:
    return {name: escape(getattr(holder, name)) for name in names}


@lru_cache(maxsize=1024)
def band_chip(band: BandView) -> str:
    """Write a band with how sure it is, as components/band_chip.html does."""
    known = band.probability is not None
    probability = f' <span class="band__p">{display.probability(band.probability)}</span>' if known else ""
    notes = "".join(
        NOTE.format(word)
        for word, is_so in (("borderline", band.borderline), ("provisional", band.provisional))
        if is_so
    )
    return BAND.format(order=band.order, name=escape(band.name), probability=probability) + notes


def shoe_rows(shoes: Sequence[ShoeText]) -> SafeString:
    """Write shoes as rows of the list."""
    return SafeString(
        "".join(
            ROW.format(
                **_texts(shoe, ROW_TEXTS),
                gone=" · discontinued" if shoe.is_discontinued else "",
                band=band_chip(shoe.band),
                slug=escape(shoe.slug),
                title=escape(shoe.title),
            )
            for shoe in shoes
        )
    )


def difference_rows(differences: Sequence[DifferenceText], here: str, there: str) -> SafeString:
    """Write the differences of two shoes, of these names, as rows."""
    titles = {"title_here": escape(here), "title_there": escape(there)}
    names = ("name", "here", "there", "difference", "share")
    return SafeString(
        "".join(
            DIFFERENCE.format(
                **titles,
                **_texts(part, names),
                verdict=f"<strong>{escape(part.verdict)}</strong>" if part.is_beyond else escape(part.verdict),
            )
            for part in differences
        )
    )


@lru_cache(maxsize=8)
def _options(choices: tuple[tuple[str, str], ...]) -> str:
    return "".join(f'<option value="{escape(value)}">{escape(label)}</option>' for value, label in choices)


def options(choices: tuple[tuple[str, str], ...], chosen: str | None) -> SafeString:
    """Write the options of a select, by value and label."""
    return chosen_of(_options(choices), chosen)


def chosen_of(written: str, chosen: str | None) -> SafeString:
    """Choose one of options that are written already."""
    if chosen is None:
        return SafeString(written)
    # Values are quoted, so that each begins in one place alone.
    value = f'<option value="{escape(chosen)}"'
    return SafeString(written.replace(f"{value}>", f"{value} selected>", 1))


CHIP = (
    '<li><a class="tag chip" href="{url}">{label} <span aria-hidden="true">✕</span>'
    '<span class="visually-hidden">, let go of this filter</span></a></li>'
)
VIEW = '<a href="{url}"{here} hx-get="{url}" hx-target="#results" hx-push-url="true">{label}</a>'


def chips(drawn: Iterable[Chip]) -> SafeString:
    """Write what narrows the list as items."""
    return SafeString("".join(CHIP.format(**_texts(chip, ("url", "label"))) for chip in drawn))


def loosened(parts: Sequence[Loosened]) -> SafeString:
    """Write what to let go of where nothing is left as items."""
    return SafeString("".join(_loosened(part) for part in parts))


def _loosened(part: Loosened) -> str:
    # Words that were searched for come with their quotation marks.
    url, label, left = (escape(text) for text in (part.url, part.label.strip("“”"), part.left))
    words = f'<a href="{url}">without “{label}”</a>: {left}'
    return f"<li>{f'<strong>{words}</strong>' if part.is_most else words}</li>"


def view_links(drawn: Iterable[ViewLink]) -> SafeString:
    """Write the ways of drawing."""
    return SafeString(
        "".join(
            VIEW.format(**_texts(link, ("url", "label")), here=' aria-current="true"' if link.is_here else "")
            for link in drawn
        )
    )


MARK = (
    '<a class="mark mark--{order}" href="{url}"><title>{title}</title>{whisker}'
    '<rect x="{hit.x}" y="{hit.y}" width="{hit.width}" height="{hit.height}"/>'
    '<circle cx="{x}" cy="{y}" r="{radius}"/>{readout}</a>'
)
SPOT = (
    '<a class="mark mark--{order}" href="{url}"><title>{title}</title>{whisker}{leader}'
    '<circle class="ring" cx="{x}" cy="{y}" r="{hit}"/><circle cx="{x}" cy="{y}" r="{radius}"/>{readout}</a>'
)


def _readout(title: str, place: tuple[str, str]) -> str:
    """Write the words that show while a mark is pointed at; no place, no words."""
    x, y = place
    return f'<text class="readout" aria-hidden="true" x="{x}" y="{y}">{title}</text>' if y else ""


def marks(drawn: Iterable[Any], radius: str, readout: tuple[str, str], *, is_kept: bool = True) -> SafeString:
    """Write shoes on the scale (drawings.scale.DrawnMark); kept where they stand the same under every filter."""
    write = _kept_mark if is_kept else _mark
    return SafeString("".join(write(mark, radius, readout) for mark in drawn))


@lru_cache(maxsize=4096)
def _kept_mark(mark: Any, radius: str, readout: tuple[str, str]) -> str:
    return _mark(mark, radius, readout)


def _mark(mark: Any, radius: str, readout: tuple[str, str]) -> str:
    title = escape(mark.title)
    return MARK.format(
        order=mark.band_order,
        url=escape(mark.url),
        title=title,
        whisker=f'<path d="{mark.whisker}"/>' if mark.whisker else "",
        hit=mark.hit,
        x=mark.x,
        y=mark.y,
        radius=radius,
        readout=_readout(title, readout),
    )


def rest(drawn: Sequence[Any], radius: str) -> SafeString:
    """Write the shoes on the scale that a filter leaves out: faint, no links."""
    circles = "".join(f'<circle cx="{mark.x}" cy="{mark.y}" r="{radius}"/>' for mark in drawn)
    return SafeString(f'<g class="rest" aria-hidden="true">{circles}</g>' if circles else "")


def bars(every: str, left: Iterable[Any]) -> SafeString:
    """Write how many shoes there are along the scale: all, and by band those left (drawings.scale.DrawnBars)."""
    paths = "".join(f'<path class="bars--{part.order}" d="{part.path}"/>' for part in left)
    return SafeString(f'<g class="bars" aria-hidden="true"><path class="bars__all" d="{every}"/>{paths}</g>')


def spots(drawn: Iterable[Any], readout: tuple[str, str]) -> SafeString:
    """Write shoes on the plane (drawings.plane.DrawnSpot)."""
    return SafeString("".join(_spot(spot, readout) for spot in drawn))


@lru_cache(maxsize=4096)
def _spot(spot: Any, readout: tuple[str, str]) -> str:
    title = escape(spot.title)
    return SPOT.format(
        order=spot.band_order,
        url=escape(spot.url),
        title=title,
        whisker=f'<path class="cross" d="{spot.whiskers}"/>' if spot.whiskers else "",
        leader=f'<path d="{spot.leader}"/>' if spot.leader else "",
        hit=spot.hit,
        x=spot.x,
        y=spot.y,
        radius=spot.radius,
        readout=_readout(title, readout),
    )
