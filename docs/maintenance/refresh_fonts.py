"""Fetch the fonts of printed pages again and write their files, licence and hashes into the package.

    python docs/maintenance/refresh_fonts.py [VERSION]

As `refresh_map_assets.py`, whose work it uses. With another version, look at a sheet before committing.
"""

from __future__ import annotations

import sys

from refresh_map_assets import OUTPUT, Shipped, refresh

DEJAVU = Shipped(
    "dejavu-fonts-ttf",
    "Bitstream-Vera, Arev; changes in the public domain",
    OUTPUT / "paper" / "assets",
    {
        "DejaVuSans.ttf": "package/ttf/DejaVuSans.ttf",
        "DejaVuSans-Bold.ttf": "package/ttf/DejaVuSans-Bold.ttf",
        "dejavu-LICENSE.txt": "package/LICENSE",
    },
)

if __name__ == "__main__":
    refresh(DEJAVU, sys.argv[1] if len(sys.argv) > 1 else None)
