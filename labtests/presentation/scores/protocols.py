"""What the pages on protocols show, worded before the template."""

from __future__ import annotations

from core.domain.figures import figure
from core.web import display
from labtests.domain.scores.protocol import P1, WORDS, Limit
from labtests.models import Protocol, ProtocolDraft
from labtests.presentation.bench_tests import StateBadge
from labtests.selectors.scores.protocols import ProtocolView

CSS = {"current": "state--good", "draft": "state--wait", "earlier": "state--off", "discarded": "state--off"}
STATE_WORDS = {"current": "in use", "draft": "draft", "earlier": "earlier", "discarded": "discarded"}


def badge(view: ProtocolView) -> StateBadge:
    return StateBadge(STATE_WORDS[view.state], CSS[view.state])


def author(view: ProtocolView) -> str:
    person = view.numbers.author
    return person.display_name if person else "standard data"


def protocol_facts(source: Protocol | ProtocolDraft) -> list[tuple[str, str]]:
    """Every number of a protocol."""
    facts = [
        (words.capitalize(), f"{_range(Limit(**source.limits[name]))}{display.NO_BREAK}{unit}")
        for name, (words, unit) in WORDS.items()
    ]
    return [
        *facts,
        ("Twist angle", f"{figure(source.torsion_deg)}°"),
        ("Compression load", f"{figure(source.compression_n)}{display.NO_BREAK}N"),
        ("Repeats wanted", str(source.repeats_wanted)),
        ("Calibrations needed", display.listed(source.calibrations)),
    ]


def _range(limit: Limit) -> str:
    ends = (limit.low, limit.high, limit.nominal)
    low, high, nominal = (display.MISSING if end is None else figure(end) for end in ends)
    return f"at least {low}" if limit.high is None else f"{nominal} ({low} to {high})"


def changes(draft: ProtocolDraft) -> list[tuple[str, str, str]]:
    """Each number that a draft changes: its name, in the protocol in use, in the draft."""
    pairs = zip(protocol_facts(draft.base), protocol_facts(draft), strict=True)
    return [(name, now, then) for (name, now), (_, then) in pairs if now != then]


def reads_otherwise(source: Protocol | ProtocolDraft) -> bool:
    """Whether readings are taken at another angle or load than the scoring models' anchors are for."""
    return source.to_domain().target != P1.target
