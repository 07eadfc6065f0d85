"""Two surveys of one forest: what changed, how sure, and through which stems."""

from plotmap.change.comparability import bring_together
from plotmap.change.comparison import compare_occasions

__all__ = ["bring_together", "compare_occasions"]
