"""Scripts: what they refuse, and that the shipped ones are sound."""

import tomllib
from pathlib import Path

import pytest

from soak.checks.base import all_checks
from soak.errors import ScriptError
from soak.run.script import find_script, read_script, script_from, shipped_scripts

GOOD = """
name = "mine"
not_after = "1 h"
[[stretch]]
name = "run"
lasts = "10 min"
[stretch.picture]
"""


def read(text: str):
    return script_from(tomllib.loads(text), "mine.toml", all_checks())


@pytest.mark.parametrize("name", shipped_scripts())
def test_each_shipped_script_can_be_read_and_takes_less_than_it_may(name):
    """Every script that ships is valid and its stretches fit into its longest time."""
    script = read_script(find_script(name, Path("nowhere")))
    assert script.head.name == name
    assert sum(stretch.lasts_s for stretch in script.stretches) < script.head.not_after


def test_the_three_default_scripts_ship():
    """Quick, evening and overnight are there by name."""
    assert {"quick", "evening", "overnight"} <= set(shipped_scripts())


MISTAKES = [
    ("name = 'x'\nnot_after = '1 h'", "stretch", "is missing"),
    (GOOD.replace("picture", "pictures"), "stretch[1].pictures", "did you mean picture?"),
    (GOOD.replace("lasts", "last"), "stretch[1].last", "did you mean lasts?"),
    (GOOD.replace('"10 min"', '"ten minutes"'), "stretch[1].lasts", "write it like"),
    (GOOD.replace('lasts = "10 min"', ""), "stretch[1].lasts", "nothing else ends"),
    (GOOD.replace('"1 h"', '"5 min"'), "not_after", "shorter than the stretches"),
    (GOOD + "shortest_dropout = 1", "stretch[1].picture.shortest_dropout", "shortest_dropout_s"),
    (GOOD.replace('name = "mine"', 'name = "mine"\nconfidence = 95'), "confidence", "below 1"),
    (
        GOOD + '[stretch.power_cycles]\nwarm = "many"',
        "stretch[1].power_cycles.warm",
        "whole number",
    ),
    (GOOD + GOOD[GOOD.index("[[") :], "stretch[2].name", "is there twice"),
    (GOOD.replace("[stretch.picture]", ""), "stretch[1]", "holds no check"),
    (
        GOOD.replace("[stretch.picture]", "picture = true"),
        "stretch[1].picture",
        "[stretch.picture]",
    ),
]


@pytest.mark.parametrize(("text", "key", "says"), MISTAKES)
def test_a_mistake_in_a_script_is_named_with_its_key_and_what_to_do(text, key, says):
    """Each mistake gives one sentence with file, key path and a way out."""
    with pytest.raises(ScriptError) as caught:
        read(text)
    assert caught.value.key == key
    assert str(caught.value).startswith("mine.toml: ")
    assert says in str(caught.value)
    assert "\n" not in str(caught.value)


def test_an_unknown_script_names_the_nearest(tmp_path):
    """A script name with a typing mistake is answered with the right one."""
    with pytest.raises(ScriptError, match="did you mean overnight"):
        find_script("overnigth", tmp_path)


def test_a_script_of_the_bench_comes_before_the_shipped_one(tmp_path):
    """A bench may have its own overnight script."""
    own = tmp_path / "scripts" / "overnight.toml"
    own.parent.mkdir()
    own.write_text(GOOD)
    assert find_script("overnight", tmp_path) == own


def test_an_attended_stretch_cannot_follow_an_unattended_one():
    """The operator is there at the beginning or not at all."""
    second = GOOD[GOOD.index("[[") :].replace("run", "later") + "\n"
    text = GOOD + second.replace('name = "later"', 'name = "later"\nattended = true')
    with pytest.raises(ScriptError, match="put it first"):
        read(text)
