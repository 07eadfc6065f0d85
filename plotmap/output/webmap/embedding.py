"""One file with everything inside: packaged files in place of references, and a policy that lets nothing else in."""

from __future__ import annotations

import base64
import hashlib
import re
from html.parser import HTMLParser
from importlib import resources

from plotmap.errors import OutputError
from plotmap.output.packaged import verified_bytes

_HERE = resources.files("plotmap.output.webmap")
_SCRIPT = re.compile(r'<script src="([^"]*)"></script>')
_STYLE = re.compile(r'<link rel="stylesheet" href="([^"]*)"\s*/?>')
_SOURCE_MAP = re.compile(r"(?m)^\s*(?://[#@]\s*sourceMappingURL=.*|/\*[#@]\s*sourceMappingURL=.*?\*/)\s*$")
_CSS_URL = re.compile(r"""url\(\s*(["']?)(.*?)\1\s*\)""")
_CSS_IMPORT = re.compile(r"@import\b", re.IGNORECASE)
_LOADING = frozenset(
    (
        "src",
        "href",
        "srcset",
        "xlink:href",
        "poster",
        "data",
        "action",
        "formaction",
        "background",
        "ping",
        "manifest",
    )
)
_INSIDE = ("#", "data:")
"""How a reference begins that leads to no other file."""
_CODE_TYPES = frozenset(("", "text/javascript", "module"))
POLICY_MARK = "{content-security-policy}"
"""Where the page wants its policy; the first such text is replaced."""


def packaged_text(name: str) -> str:
    """Return a packaged file as text with line feeds.

    Parameters
    ----------
    name : str
        ``page/…`` for files of the project, ``assets/…`` for files of others, which the manifest lists.

    Returns
    -------
    str
        As it is in the package, every line ended by a line feed alone.

    Raises
    ------
    OutputError
        There is no such file, or its hash is not that of the manifest.
    """
    return packaged_bytes(name).decode("utf-8").replace("\r\n", "\n")


def packaged_bytes(name: str) -> bytes:
    """Return a packaged file; see `packaged_text`.

    Parameters
    ----------
    name : str
        ``page/…`` or ``assets/…``.

    Returns
    -------
    bytes
        As it is in the package.

    Raises
    ------
    OutputError
        There is no such file, or its hash is not that of the manifest.
    """
    folder, _, file = name.partition("/")
    if folder not in {"assets", "page"} or ".." in file.split("/") or not (_HERE / folder / file).is_file():
        raise OutputError(
            f"map page: {name!r} is not in the package, and nothing is fetched from outside. "
            "Only files of plotmap/output/webmap/assets and page can be used"
        )
    if folder == "assets":
        return verified_bytes(_HERE / "assets", file, "map page", "docs/maintenance/refresh_map_assets.py")
    return (_HERE / folder / file).read_bytes()


def embed(html: str, *, images_from: str = "") -> str:
    """Return the page with every packaged file inside it and a policy for exactly these.

    The policy allows scripts and styles by their hash, and images as ``data:`` and from the host given only.
    Leaflet sets positions through the style object of its elements, which needs no permission; nothing needs
    ``unsafe-inline``.

    Parameters
    ----------
    html : str
        Page with ``<script src="…"></script>`` and ``<link rel="stylesheet" href="…"/>`` that name packaged
        files, and `POLICY_MARK`.
    images_from : str
        The one host that images may come from, with its scheme; none where empty.

    Returns
    -------
    str
        Page that asks for no other file.

    Raises
    ------
    OutputError
        A reference is not to a packaged file, a packaged file is not the one of the manifest, the page has an
        inline event handler or style attribute, which its policy would block, or `POLICY_MARK` is not there.
    """
    whole = _SCRIPT.sub(lambda found: f"<script>\n{_script(found[1])}</script>", html)
    whole = _STYLE.sub(lambda found: f"<style>\n{_style(found[1])}</style>", whole)
    page = _Page()
    page.feed(whole)
    page.close()
    if POLICY_MARK not in whole:
        raise OutputError(f"map page: the template has no {POLICY_MARK}. Put it into its policy meta tag")
    return whole.replace(POLICY_MARK, page.policy(images_from), 1)


def _script(name: str) -> str:
    """Return a packaged script that can stand between script tags."""
    text = _SOURCE_MAP.sub("", packaged_text(name))
    return re.sub(r"<(?=/script|!--|script)", r"\\x3C", text, flags=re.IGNORECASE)


def _style(name: str) -> str:
    """Return a packaged style sheet that can stand between style tags, its images as ``data:`` addresses."""
    folder = name.rpartition("/")[0]

    def inside(found: re.Match[str]) -> str:
        target = found[2]
        if target.startswith(_INSIDE):
            return found[0]
        content = base64.b64encode(packaged_bytes(f"{folder}/{target}")).decode("ascii")
        return f'url("data:image/{target.rpartition(".")[2]};base64,{content}")'

    text = _CSS_URL.sub(inside, _SOURCE_MAP.sub("", packaged_text(name)))
    return re.sub(r"<(?=/style)", r"\\3C ", text, flags=re.IGNORECASE)


class _Page(HTMLParser):
    """Reads the finished page: hashes of scripts and styles, and a stop at whatever leads outside."""

    def __init__(self) -> None:
        super().__init__(convert_charrefs=True)
        self._open: str | None = None
        self._text: list[str] = []
        self._hashes: dict[str, dict[str, None]] = {"script": {}, "style": {}}

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        """Check the attributes; remember where a script or style begins."""
        for name, value in attrs:
            if name in _LOADING and not (value or "").startswith(_INSIDE):
                raise OutputError(
                    f"map page: <{tag} {name}={value!r}> leads to another file. Use a packaged file or data:"
                )
            if name == "style" or name.startswith("on"):
                raise OutputError(
                    f"map page: <{tag} {name}={value!r}> would be blocked by the page's own policy. "
                    "Use a class or a listener"
                )
        is_code = tag == "script" and (dict(attrs).get("type") or "").lower() in _CODE_TYPES
        self._open = tag if is_code or tag == "style" else None
        self._text = []

    def handle_data(self, data: str) -> None:
        """Collect the text of a script or style."""
        if self._open:
            self._text.append(data)

    def handle_endtag(self, tag: str) -> None:
        """Hash a finished script or style."""
        if tag != self._open:
            return
        text = "".join(self._text)
        if tag == "style" and (
            _CSS_IMPORT.search(text) or any(not url.startswith(_INSIDE) for _, url in _CSS_URL.findall(text))
        ):
            raise OutputError("map page: a style sheet leads to another file. Use a packaged file or data:")
        digest = base64.b64encode(hashlib.sha256(text.encode("utf-8")).digest()).decode("ascii")
        self._hashes[tag][f"'sha256-{digest}'"] = None
        self._open = None

    def policy(self, images_from: str = "") -> str:
        """Return the Content-Security-Policy of the page read."""
        images = f"data: {images_from}".rstrip()
        scripts, styles = (" ".join(self._hashes[tag]) or "'none'" for tag in ("script", "style"))
        return (
            f"default-src 'none'; script-src {scripts}; style-src {styles}; img-src {images}; "
            "base-uri 'none'; form-action 'none'"
        )
