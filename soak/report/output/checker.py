"""The page with which a buyer checks a report: one file that works offline and needs no program."""

from base64 import b64encode
from hashlib import sha256
from importlib import resources

from jinja2 import Environment, PackageLoader, StrictUndefined
from markupsafe import Markup

from soak.language import language
from soak.names import named
from soak.words import Message, Phrase

PARTS = resources.files("soak.report") / "checker"
GRADES = ("ready", "ready, as far as tested", "not ready: failed", "not ready: incomplete")
"""As the ledger has them; the page says them in its own language."""


def checker(language_code: str = "en") -> str:
    """Return the page.

    Style and script are allowed by their SHA-256, all else is refused: the page can load nothing
    and send nothing, whatever is dropped into it.

    References
    ----------
    W3C, Content Security Policy Level 3, section 2.3.1 (hash sources).
    """
    speaks = language(language_code)
    style = _part("check.css")
    # One module: what the verifier exports is known to what follows it.
    script = f"/*\n{_part('LICENSE.txt')}*/\n{_part('noble-ed25519.js')}\n{_part('check.js')}"
    environment = Environment(
        loader=PackageLoader("soak.report", "checker"), autoescape=True, undefined=StrictUndefined
    )
    return environment.get_template("check.html.j2").render(
        _=lambda phrase: speaks.say(Message(Phrase(phrase, {}))),
        lang=speaks.code,
        grades=[(grade, speaks.say(named(grade))) for grade in GRADES],
        style=Markup(style),  # our own files, nothing of anybody else's in them
        script=Markup(script),
        style_sha256=_sha256(style),
        script_sha256=_sha256(script),
    )


def _part(name: str) -> str:
    return PARTS.joinpath(name).read_text(encoding="utf-8")


def _sha256(text: str) -> str:
    return b64encode(sha256(text.encode()).digest()).decode()
