"""What others may see of a survey: species put together, plots moved, and a test of every file that is written."""

from plotmap.sharing.about import about_sharing
from plotmap.sharing.leak_test import leaks, secrets_of
from plotmap.sharing.species import hide_species, without_figure
from plotmap.sharing.stands import share_stand

__all__ = ["about_sharing", "hide_species", "leaks", "secrets_of", "share_stand", "without_figure"]
