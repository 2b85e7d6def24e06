"""A real browser without any driver: pages are opened by its command line, results read back."""

import html
import json
import os
import re
import shutil
import subprocess
from importlib import resources
from pathlib import Path

from patience import LIMIT_S

HOUSE = Path(__file__).parents[2]
NAMES = ("chromium", "chromium-browser", "google-chrome", "google-chrome-stable")
AXE = (
    HOUSE / "node_modules/axe-core/axe.min.js",  # a newer one, where somebody put it
    Path(str(resources.files("axe_core_python"))) / "axe.min.js",
)
LEAVE = """
const put = value => { const pre = document.createElement('pre'); pre.id = 'result';
  pre.textContent = JSON.stringify(value); document.body.append(pre); };
"""


def browser() -> str:
    """Return the browser's path; empty where there is none."""
    return os.environ.get("SOAK_BROWSER") or next(filter(None, map(shutil.which, NAMES)), "")


def axe_file() -> Path:
    """Return where axe-core is: where `SOAK_AXE` says, in node_modules, or with our packages."""
    named = os.environ.get("SOAK_AXE")
    return Path(named) if named else next(file for file in AXE if file.is_file())


def run(folder: Path, *options: str) -> str:
    """Run the browser once in a profile of its own, without network; return what it prints."""
    command = [
        browser(), "--headless", "--no-sandbox", "--disable-gpu", "--no-first-run",
        "--host-resolver-rules=MAP * ~NOTFOUND", f"--user-data-dir={folder / 'profile'}", *options,
    ]  # fmt: skip
    done = subprocess.run(command, capture_output=True, timeout=LIMIT_S, check=True)
    return done.stdout.decode("utf-8", "replace")


def elements(folder: Path, page: str, width: int = 1280) -> str:
    """Return a page's elements after all its scripts ran, in a frame of that many pixels.

    The frame has the page's own policy and width: a headless window is never narrow.
    """
    file, frame = folder / "page.html", folder / "frame.html"
    file.write_text(page, encoding="utf-8")
    frame.write_text(
        f"<!DOCTYPE html><title>frame</title><style>body{{margin:0}}iframe{{border:0}}</style>"
        f'<iframe src="page.html" width="{width}" height="2000"></iframe>'
        "<script>addEventListener('load', () => { const inner = frames[0].document;"
        "const copy = () => { document.body.dataset.inner = inner.documentElement.outerHTML; };"
        "copy(); setTimeout(copy, 3000); setTimeout(copy, 9000); });</script>",
        encoding="utf-8",
    )
    seen = run(
        folder, "--allow-file-access-from-files", "--virtual-time-budget=15000", "--dump-dom",
        f"--window-size={max(width, 1280)},2000", frame.as_uri(),
    )  # fmt: skip
    found = re.search(r'data-inner="(.*?)"', seen, re.DOTALL)
    assert found, "the page was not seen"
    return html.unescape(found[1])


def printed(folder: Path, page: str) -> Path:
    """Print a page as the browser would; return the PDF."""
    file, paper = folder / "page.html", folder / "page.pdf"
    file.write_text(page, encoding="utf-8")
    run(folder, "--no-pdf-header-footer", f"--print-to-pdf={paper}", file.as_uri())
    return paper


def result_of(seen: str) -> object:
    """Return what a script of ours left in the page as JSON."""
    found = re.search(r'<pre id="result">(.*?)</pre>', seen, re.DOTALL)
    assert found, "the page's script left no result"
    return json.loads(html.unescape(found[1]))


def with_script(page: str, script: str) -> str:
    """Return a page that runs a script of ours: its policy, which forbids any, is taken out."""
    bare = re.sub(r'<meta http-equiv="Content-Security-Policy"[^>]*>', "", page)
    assert bare != page
    return bare.replace("</body>", f"<script>{script}</script></body>")
