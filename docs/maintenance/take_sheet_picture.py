"""Draw the map sheet of the sample survey, A3 at 1 : 10 000, and take a picture of it for the documents.

python docs/maintenance/take_sheet_picture.py
"""

from __future__ import annotations

import tempfile
from pathlib import Path

import pypdfium2

from plotmap.model.paper import SheetWish
from plotmap.workflow import sheet

ROOT = Path(__file__).parents[2]
PICTURE = ROOT / "docs" / "images" / "sheet.png"
DOTS_PER_INCH = 80

if __name__ == "__main__":
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "sheet.pdf"
        sheet(ROOT / "sample_plots", SheetWish("A3", 10_000), path)
        page = pypdfium2.PdfDocument(path.read_bytes())[0]
        page.render(scale=DOTS_PER_INCH / 72).to_pil().save(PICTURE, optimize=True)
    print(f"{PICTURE}: {PICTURE.stat().st_size:,} bytes")
