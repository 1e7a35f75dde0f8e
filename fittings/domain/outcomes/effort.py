"""How long the questions of a follow-up take, said wherever somebody is asked to answer them."""

from __future__ import annotations

QUESTIONS_ASKED = 12
"""Questions of a follow-up; those about pain count as one, however many places there are."""

EFFORT = "Twelve short questions, two to three minutes. You can skip any of them."
# About 250 words to read and a dozen touches, at a common pace of reading (from memory).
