"""From estimates and the officer's rules to proposals: what to take, and how sure it is that it is due."""

from plotmap.thinning.proposing import propose

__all__ = ["propose"]
