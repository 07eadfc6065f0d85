"""Settings of all tests."""

from hypothesis import settings

# Properties are about figures, not about time: a busy machine must not fail them.
settings.register_profile("plotmap", deadline=None)
settings.load_profile("plotmap")
