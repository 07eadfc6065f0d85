"""Fetch the map library again and write its files, licence and hashes into the package.

    python docs/maintenance/refresh_map_assets.py [VERSION]

Uses the npm client as it is set up on this machine. Without a version the one of the manifest is fetched,
which must give the same hashes; with one, look at the map in a browser before committing.
"""

from __future__ import annotations

import hashlib
import json
import subprocess
import sys
import tarfile
import tempfile
from pathlib import Path

ASSETS = Path(__file__).parents[2] / "plotmap" / "output" / "webmap" / "assets"
PACKAGE = "leaflet"
LICENCE = "BSD-2-Clause"
FILES = {
    "leaflet.js": "package/dist/leaflet.js",
    "leaflet.css": "package/dist/leaflet.css",
    "images/layers.png": "package/dist/images/layers.png",
    "images/layers-2x.png": "package/dist/images/layers-2x.png",
    "images/marker-icon.png": "package/dist/images/marker-icon.png",
    "leaflet-LICENSE.txt": "package/LICENSE",
}


def fetch(version: str, folder: Path) -> dict[str, bytes]:
    """Return the files wanted from the packed package, by the name they have here."""
    subprocess.run(["npm", "pack", "--silent", f"{PACKAGE}@{version}"], cwd=folder, check=True)
    (archive,) = folder.glob("*.tgz")
    files = {}
    with tarfile.open(archive) as packed:
        for name, member in FILES.items():
            stream = packed.extractfile(member)
            if stream is None:
                raise SystemExit(f"{PACKAGE} {version} has no file {member}: say in FILES where it is now")
            files[name] = stream.read()
    return files


def main() -> None:
    """Fetch, write, and say what changed."""
    listed = ASSETS / "manifest.json"
    before = json.loads(listed.read_text("utf-8"))["files"] if listed.exists() else []
    version = sys.argv[1] if len(sys.argv) > 1 else before[0]["version"]
    with tempfile.TemporaryDirectory() as folder:
        files = fetch(version, Path(folder))
    entries = []
    for name, content in sorted(files.items()):
        (ASSETS / name).parent.mkdir(parents=True, exist_ok=True)
        (ASSETS / name).write_bytes(content)
        sha256 = hashlib.sha256(content).hexdigest()
        entries.append(
            {"package": PACKAGE, "version": version, "licence": LICENCE, "file": name, "sha256": sha256}
        )
    listed.write_text(json.dumps({"files": entries}, indent=2) + "\n", "utf-8", newline="\n")
    old = {entry["file"]: entry["sha256"] for entry in before}
    for entry in entries:
        state = "as before" if old.get(entry["file"]) == entry["sha256"] else "changed"
        print(f"{entry['file']}: {state}")


if __name__ == "__main__":
    main()
