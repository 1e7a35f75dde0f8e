"""The wall on a display: whatever its proportions, everything is on it and nothing is cut off."""

from __future__ import annotations

import pytest

from catalogue.drawings.screen import TALL, WIDE

# Full HD, wide and upright, smaller ones of the same proportions, and some of others.
SIZES = [(1920, 1080), (1080, 1920), (1280, 720), (720, 1280), (1920, 1200), (2560, 1080), (1024, 768)]
NAMES = ("Oddlemere Ridge Wanderers Momentum 163 4", "Marathon Wanderers Mammoth Womble WW 444")

# The fullest page there is: six new shoes with names of forty letters in the band of the longest name, and a scale as
# high as it gets.
FILL = """([name, views]) => {
  const list = document.querySelector('.screen__list')
  while (list.children.length < 6) list.append(list.firstElementChild.cloneNode(true))
  list.classList.add('is-long')
  for (const row of list.children) {
    row.querySelector('.screen__new')?.remove()
    row.querySelector('.screen__name').textContent = name
    row.querySelector('.screen__name').insertAdjacentHTML('afterend', ' <span class="screen__new">new</span>')
    row.querySelector('.screen__in').textContent = 'Very strong hold'
  }
  for (const [shape, view] of views) document.querySelector(`.screen__scale--${shape}`).setAttribute('viewBox', view)
}"""

PROBLEMS = """() => {
  const words = 'h1, .screen__scale, .screen__name, .screen__new, .screen__in, .screen__score, .screen__foot p'
  const parts = [...document.querySelectorAll(words)].filter(part => part.getClientRects().length)
  const places = parts.map(part => part.getBoundingClientRect())
  const found = document.documentElement.scrollHeight > innerHeight ? ['the page scrolls'] : []
  parts.forEach((part, index) => {
    const place = places[index], what = part.getAttribute('class') ?? part.tagName
    if (place.right > innerWidth + 1 || place.bottom > innerHeight + 1) found.push(`${what} is outside`)
    const letter = parseFloat(getComputedStyle(part).fontSize)
    const cut = part.matches('.screen__name') && part.scrollHeight > part.clientHeight + letter / 2
    if (cut) found.push(`${what} is cut`)
    places.slice(index + 1).forEach((other, more) => {
      const wide = Math.min(place.right, other.right) - Math.max(place.left, other.left)
      const high = Math.min(place.bottom, other.bottom) - Math.max(place.top, other.top)
      // Letters keep away from the edges of their lines.
      if (wide > 1 && high > letter / 5) found.push(`${what} overlaps ${parts[index + 1 + more].className}`)
    })
  })
  return found
}"""


@pytest.mark.parametrize(("width", "height"), SIZES)
def test_fullest_page_fits_the_display_with_whole_names(visit, width, height):
    page = visit(width=width, height=height)
    page.goto("/screen/?still=yes")
    assert page.evaluate(PROBLEMS) == []
    views = [(shape.name, f"0 0 {shape.length} {shape.head + shape.room}") for shape in (WIDE, TALL)]
    for name in NAMES:
        page.evaluate(FILL, [name, views])
        assert page.evaluate(PROBLEMS) == [], name


def test_name_that_is_too_long_is_found(visit):
    page = visit(width=1080, height=1920)
    page.goto("/screen/?still=yes")
    page.evaluate(FILL, ["Wanderers " * 12, []])
    assert "screen__name is cut" in page.evaluate(PROBLEMS)
