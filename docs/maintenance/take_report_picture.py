"""Write the report of the sample survey and take a picture of its first page for the documents.

python docs/maintenance/take_report_picture.py
"""

from __future__ import annotations

import tempfile
from pathlib import Path

import pypdfium2

from plotmap.workflow import run

ROOT = Path(__file__).parents[2]
PICTURE = ROOT / "docs" / "images" / "report.png"
DOTS_PER_INCH = 80
COLOURS = 96
LARGEST_BYTES = 150_000

if __name__ == "__main__":
    with tempfile.TemporaryDirectory() as folder:
        results = Path(folder) / "results"
        run(ROOT / "sample_plots", results)
        page = pypdfium2.PdfDocument((results / "report.pdf").read_bytes())[0]
        picture = page.render(scale=DOTS_PER_INCH / 72).to_pil().convert("RGB").quantize(COLOURS)
        picture.save(PICTURE, optimize=True)
    size = PICTURE.stat().st_size
    print(f"{PICTURE}: {size:,} bytes")
    if size > LARGEST_BYTES:
        raise SystemExit(f"{PICTURE.name} is larger than {LARGEST_BYTES:,} bytes: lower DOTS_PER_INCH")
