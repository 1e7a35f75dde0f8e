"""The wording that a customer agrees to.

A changed wording gets a new version; what people agreed to before stays on record.
"""

from __future__ import annotations

CONSENT_VERSION = "C1"
CONSENT_TEXT = (
    "I agree that this practice keeps my name, my e-mail address and what I tell and show at the fitting, including "
    "about pain and my feet, to recommend shoes and to ask me later how it went. I may ask at any time to see it or to "
    "have it removed. Without my agreement I am fitted all the same, and nothing of it is kept."
)

REQUEST_CONSENT_VERSION = "R1"
REQUEST_CONSENT_TEXT = (
    "I agree that the store saves my name and how to reach me to arrange a fitting. Both are deleted once it has "
    "answered, and at the latest 30 days after the day I asked for."
)
