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
from dataclasses import dataclass
from pathlib import Path

OUTPUT = Path(__file__).parents[2] / "plotmap" / "output"


@dataclass(frozen=True)
class Shipped:
    """Files of one npm package that are shipped: the folder they go to, and where they lie in the package."""

    package: str
    licence: str
    folder: Path
    files: dict[str, str]


LEAFLET = Shipped(
    "leaflet",
    "BSD-2-Clause",
    OUTPUT / "webmap" / "assets",
    {
        "leaflet.js": "package/dist/leaflet.js",
        "leaflet.css": "package/dist/leaflet.css",
        "images/layers.png": "package/dist/images/layers.png",
        "images/layers-2x.png": "package/dist/images/layers-2x.png",
        "images/marker-icon.png": "package/dist/images/marker-icon.png",
        "leaflet-LICENSE.txt": "package/LICENSE",
    },
)


def fetch(shipped: Shipped, version: str, folder: Path) -> dict[str, bytes]:
    """Return the files wanted from the packed package, by the name they have here."""
    subprocess.run(["npm", "pack", "--silent", f"{shipped.package}@{version}"], cwd=folder, check=True)
    (archive,) = folder.glob("*.tgz")
    files = {}
    with tarfile.open(archive) as packed:
        for name, member in shipped.files.items():
            stream = packed.extractfile(member)
            if stream is None:
                raise SystemExit(f"{shipped.package} {version} has no file {member}: say where it is now")
            files[name] = stream.read()
    return files


def refresh(shipped: Shipped, version: str | None) -> None:
    """Fetch, write, and say what changed; without a version, the one of the manifest."""
    listed = shipped.folder / "manifest.json"
    before = json.loads(listed.read_text("utf-8"))["files"] if listed.exists() else []
    if version is None and not before:
        raise SystemExit(f"{listed} is not there: name a version of {shipped.package}")
    version = version or before[0]["version"]
    with tempfile.TemporaryDirectory() as folder:
        files = fetch(shipped, version, Path(folder))
    entries = []
    for name, content in sorted(files.items()):
        (shipped.folder / name).parent.mkdir(parents=True, exist_ok=True)
        (shipped.folder / name).write_bytes(content)
        sha256 = hashlib.sha256(content).hexdigest()
        entry = {"package": shipped.package, "version": version, "licence": shipped.licence}
        entries.append({**entry, "file": name, "sha256": sha256})
    listed.write_text(json.dumps({"files": entries}, indent=2) + "\n", "utf-8", newline="\n")
    old = {entry["file"]: entry["sha256"] for entry in before}
    for entry in entries:
        state = "as before" if old.get(entry["file"]) == entry["sha256"] else "changed"
        print(f"{entry['file']}: {state}")


if __name__ == "__main__":
    refresh(LEAFLET, sys.argv[1] if len(sys.argv) > 1 else None)
