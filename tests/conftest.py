"""Shared settings: property tests draw the same examples each run; VAMPBOOK_EXPLORE=1 draws new and more ones."""

from __future__ import annotations

import os
import tempfile

from hypothesis import settings

os.environ.setdefault("VAMPBOOK_CACHE", tempfile.mkdtemp(prefix="vampbook-cache-"))  # not the user's own
settings.register_profile("steady", derandomize=True, deadline=None, database=None)
settings.register_profile("explore", deadline=None, database=None, max_examples=3000)
settings.load_profile("explore" if os.environ.get("VAMPBOOK_EXPLORE") else "steady")
