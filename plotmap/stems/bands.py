"""Painted bands: whether their colours can be told apart, also under the common colour-vision deficiencies."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import combinations

import numpy as np

from plotmap.model.class_rule import Band
from plotmap.model.findings import Findings, finding

MIN_DISTANCE = 16.0
"""Smallest distance of two colours in CAM02-UCS (lightness 0 to 100). Petroff 2021, "Accessible color sequences for
data visualization", arXiv:2107.02270, keeps this distance in his sets of ten colours (from memory)."""
VISIONS = {
    "normal vision": None,
    "deuteranopia": "deuteranomaly",
    "protanopia": "protanomaly",
    "tritanopia": "tritanomaly",
}
"""What is looked through, and the name colorspacious has for it at full severity."""


def colour_distance(one: str, other: str, vision: str = "normal vision") -> float:
    """Return how far apart two colours look.

    Parameters
    ----------
    one, other : str
        Colours as ``#rrggbb`` (sRGB).
    vision : str
        One of `VISIONS`. Deficiencies are simulated after Machado, Oliveira & Fernandes 2009, IEEE Transactions on
        Visualization and Computer Graphics 15(6): 1291-1298, at full severity.

    Returns
    -------
    float
        Euclidean distance in CAM02-UCS (Luo, Cui & Li 2006); 0 for one colour, 100 from black to white.

    Raises
    ------
    KeyError
        No such vision is known.
    """
    from colorspacious import cspace_convert, deltaE  # noqa: PLC0415 - only where bands have colours

    colours = np.array([[int(colour[at : at + 2], 16) / 255 for at in (1, 3, 5)] for colour in (one, other)])
    deficiency = VISIONS[vision]
    if deficiency is not None:
        seen = {"name": "sRGB1+CVD", "cvd_type": deficiency, "severity": 100}
        colours = np.clip(cspace_convert(colours, seen, "sRGB1"), 0.0, 1.0)
    return float(deltaE(colours[0], colours[1], input_space="sRGB1"))


def band_findings(bands: Sequence[Band], file: str = "survey.toml") -> Findings:
    """Find pairs of bands whose colours are hard to tell apart.

    Parameters
    ----------
    bands : sequence of Band
        Those without a colour are passed over.
    file : str
        Where they were declared.

    Returns
    -------
    Findings
        ``bands-hard-to-tell-apart``, one a pair that is nearer than `MIN_DISTANCE` to any vision.
    """
    found = []
    for one, other in combinations(bands, 2):
        if one.colour is None or other.colour is None:
            continue
        distances = {vision: colour_distance(one.colour, other.colour, vision) for vision in VISIONS}
        near = [
            f"{vision} {distance:.1f}" for vision, distance in distances.items() if distance < MIN_DISTANCE
        ]
        if near:
            message = (
                f"bands {one.name} ({one.letter}, {one.colour}) and {other.name} ({other.letter}, {other.colour}) "
                f"look nearly alike: {', '.join(near)}; a distance of {MIN_DISTANCE:g} or more in CAM02-UCS is needed"
            )
            found.append(
                finding(
                    "bands-hard-to-tell-apart",
                    file,
                    message,
                    column="colour",
                    value=f"{one.colour}, {other.colour}",
                )
            )
    return Findings.join(found)
