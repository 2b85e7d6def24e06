"""The recipe with general tools, word for word as the page for buyers has it."""

import random
import re
import shutil
import subprocess
import sys
from pathlib import Path

import pytest
from made_up_report import sheet_of

from soak.report.output.html import page
from soak.report.output.paper import pdf
from soak.report.output.privacy import for_buyer
from soak.report.signing.sign import new_key, sign_file

RECIPE = Path(__file__).parents[2] / "docs/how-to/check-a-report.md"
KEY = new_key()


def has_openssl_3() -> bool:
    openssl = shutil.which("openssl")
    if openssl is None:
        return False
    told = subprocess.run([openssl, "version"], capture_output=True, text=True, check=True)
    return int(told.stdout.split()[1].partition(".")[0]) >= 3


pytestmark = pytest.mark.skipif(not has_openssl_3(), reason="no OpenSSL 3 here")


def followed(folder: Path, content: bytes) -> tuple[str, bool]:
    """Follow the recipe on a file; return the printed fingerprint, and whether it is verified."""
    text = RECIPE.read_text(encoding="utf-8")
    ((program,), (command,)) = (
        re.findall(f"```{kind}\n(.*?)```", text, re.S) for kind in ("python", "sh")
    )
    (folder / "file").write_bytes(content)
    (folder / "recipe.py").write_text(program)
    first = subprocess.run(
        [sys.executable, "recipe.py", "file"],
        cwd=folder,
        capture_output=True,
        text=True,
        check=False,
    )
    if first.returncode:
        return "", False
    second = subprocess.run(
        command.split(), cwd=folder, capture_output=True, text=True, check=False
    )
    told = "Signature Verified Successfully" in second.stdout
    assert told == (second.returncode == 0)
    return first.stdout.strip(), told


def signed(kind: str) -> bytes:
    sheet = for_buyer(sheet_of(signed_by=KEY.fingerprint))
    return sign_file(page(sheet).encode() if kind == "html" else pdf(sheet), KEY)


@pytest.mark.parametrize("kind", ["html", "pdf"])
def test_the_recipe_verifies_what_is_genuine_and_nothing_else(kind, tmp_path):
    """Page and paper: the fingerprint that is printed, verified; thirty edited copies are not."""
    content = signed(kind)
    assert followed(tmp_path, content) == (KEY.fingerprint, True)
    chance = random.Random(8410)
    for _ in range(30):
        edited = bytearray(content)
        edited[chance.randrange(len(edited))] ^= 1 << chance.randrange(8)
        assert not followed(tmp_path, bytes(edited))[1]
    assert not followed(tmp_path, content + b" ")[1]
