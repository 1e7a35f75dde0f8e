"""How long the questions of a follow-up take, said wherever somebody is asked to answer them."""

from __future__ import annotations

EFFORT = "Twelve short questions, two to three minutes. You can skip any of them."
# About 250 words to read and a dozen touches, at a common pace of reading (from memory).
