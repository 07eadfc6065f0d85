"""Settings of all tests."""

from hypothesis import settings

# Properties are about figures, not about time: a busy machine must not fail them.
settings.register_profile("plotmap", deadline=None, max_examples=100)
settings.register_profile("thorough", deadline=None, max_examples=1000)
settings.load_profile("plotmap")
