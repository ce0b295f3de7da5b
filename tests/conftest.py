"""Property tests have no deadline: on a slow or busy machine an example may take its time."""

from __future__ import annotations

from hypothesis import settings

settings.register_profile("untimed", settings(), deadline=None)
settings.load_profile("untimed")
