"""How many made-up inputs a property is tried on, by what one of them costs.

``pytest --hypothesis-profile=thorough tests/properties`` tries ten times as many.
"""

from hypothesis import settings

_BASE = settings.default.max_examples if settings.default else 100

one_stage = settings(max_examples=_BASE // 4)
"""For a stage that takes hundredths of a second."""
several_stages = settings(max_examples=_BASE // 10)
"""For runs from stems to estimates."""
