"""The settings of production with the floors' addresses beside the product's: for the bench's server alone."""

from __future__ import annotations

from config.settings import *  # noqa: F403

ROOT_URLCONF = "bench.floor_urls"
