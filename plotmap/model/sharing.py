"""Who results are shared with, what is hidden from them, and what must not be found in the files."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    import numpy as np
    import numpy.typing as npt

OTHER_SPECIES = "other species"
"""What sensitive species, and those that join them, are reported as."""
ABOUT_FILE = "about_sharing.txt"
"""Says in the folder what was changed; a folder with it is never the result of a run."""


class Audience(StrEnum):
    """Who results are made for."""

    MANAGERS = "managers"
    PUBLIC = "public"


@dataclass(frozen=True, slots=True)
class Hidden:
    """Which species are reported together as `OTHER_SPECIES`.

    Attributes
    ----------
    written : frozenset of str
        Spellings of sensitive species, in stems and in the species table, those that resemble one too.
    reported : frozenset of str
        Names, or groups, that these would be reported as.
    joined : frozenset of str
        Names of species that are not sensitive, but reported with them so that the group does not give them away.
    n_only : int
        Compartments in which no other species stand than sensitive ones.
    n_apart : int
        Compartments without sensitive species in which the group stands.
    n_with : int
        Compartments in which sensitive species stand.
    """

    written: frozenset[str] = frozenset()
    reported: frozenset[str] = frozenset()
    joined: frozenset[str] = frozenset()
    n_only: int = 0
    n_apart: int = 0
    n_with: int = 0

    @property
    def group(self) -> frozenset[str]:
        """All reported names that become `OTHER_SPECIES`."""
        return self.reported | self.joined

    @property
    def unnamed(self) -> frozenset[str]:
        """Every name that no equation, maximum or setting may be shown of."""
        return self.written | self.group


@dataclass(frozen=True, slots=True)
class Secrets:
    """What must not be found in any file that is shared.

    Attributes
    ----------
    positions : numpy.ndarray of float, shape (n, 2)
        Easting and northing of plots and stems, in `crs`.
    crs : str
        CRS of the results; empty without one.
    plots, crews, species : frozenset of str
        Identifiers of plots, names of crews and instruments, and codes, botanical and local names of sensitive
        species.
    places : numpy.ndarray of float, shape (m, 2)
        Points that may be shown: corners and middles of compartments, in `crs`.
    shown : frozenset of str
        Identifiers and names of compartments and strata: they are shown, also where a plot or crew is called so, but
        not where they name a sensitive species.
    allowed : frozenset of str
        Texts that may be shown whatever they name, as the settings say.
    """

    positions: npt.NDArray[np.float64]
    crs: str
    plots: frozenset[str]
    crews: frozenset[str]
    species: frozenset[str]
    places: npt.NDArray[np.float64]
    shown: frozenset[str]
    allowed: frozenset[str]


@dataclass(frozen=True, slots=True)
class Leak:
    """A secret found, without the secret itself.

    Attributes
    ----------
    file : str
        Path in the folder.
    kind : str
        What was found: a position, an identifier of a plot, …
    where : str
        Place in the file, as far as it is known: a table, a sheet, the page's data.
    """

    file: str
    kind: str
    where: str
