"""What a script is said to show before it runs."""

import json
import shutil
from importlib import resources
from pathlib import Path

import pytest

from soak.desk.forecast.explaining import explain
from soak.errors import FixtureError, ScriptError

FIXTURE = """\
name = "left"
simulated = "good"
[switch]
driver = "simulated"
[capture]
driver = "simulated"
port = "video"
"""
SCRIPT = """\
name = "mine"
not_after = "10 h"
{head}
[[stretch]]
name = "starts"
attended = true
[stretch.power_cycles]
warm = {warm}
off_s = 30
on_s = 60
[[stretch]]
name = "run"
lasts = "8 h"
[stretch.picture]
[stretch.transfer]
"""

PORTS = """\
name = "ports"
not_after = "2 h"
[[stretch]]
name = "ports"
attended = true
[stretch.reseat]
port = "video"
times = 5
new_plug_times = 5
[stretch.wiggle]
port = "video"
"""


@pytest.fixture
def bench(tmp_path):
    """Make a bench folder with one fixture, one model and room for a script."""
    models = tmp_path / "fixtures" / "models"
    models.mkdir(parents=True)
    found = next(
        file for file in resources.files("soak.sim").rglob("ferrow-sp-40.toml") if file.is_file()
    )
    shutil.copy(found, models)
    (tmp_path / "fixtures" / "left.toml").write_text(FIXTURE)
    (tmp_path / "fixtures" / "eye.toml").write_text(FIXTURE.partition("[capture]")[0])
    return tmp_path


def written(bench, *, warm=60, head=""):
    file = bench / "mine.toml"
    file.write_text(SCRIPT.format(warm=warm, head=head))
    return str(file)


def explained(bench, file, fixture="", model=""):
    return json.loads(explain(bench, file, fixture, model, as_json=True))


def test_starts_and_hours_are_those_of_the_script(bench):
    """Sixty warm starts: 4.87 % (success run); eight hours: one in 2.67 h (e-Handbook 8.4.5.1)."""
    found = explained(bench, written(bench))
    starts, run = found["stretches"]
    assert starts["starts"]["warm"][0] == 60
    assert starts["starts"]["warm"][1] == pytest.approx(1 - 0.05 ** (1 / 60))
    assert run["one_in_s"] == pytest.approx(8 * 3600 / 2.99573, rel=1e-5)


def test_the_longest_time_is_said_beside_the_usual_one(bench):
    """Sixty cycles of 90 s and 8 h are expected; not_after is the longest."""
    found = explained(bench, written(bench))
    assert found["expected_s"] == 60 * 90 + 8 * 3600
    assert found["not_after_s"] == 10 * 3600
    words = explain(bench, written(bench), "", "", as_json=False)
    assert "9 h 30 min if all goes well, at most 10 h" in words


def test_confidence_of_the_script_is_used(bench):
    """At 99 % the same sixty starts show less: 1 - 0.01^(1/60)."""
    found = explained(bench, written(bench, head="confidence = 0.99"))
    assert found["stretches"][0]["starts"]["warm"][1] == pytest.approx(1 - 0.01 ** (1 / 60))


def test_confidence_in_percent_is_refused(bench):
    """95 instead of 0.95 is one sentence with file and key."""
    with pytest.raises(ScriptError) as refused:
        explained(bench, written(bench, head="confidence = 95"))
    assert "confidence" in str(refused.value)
    assert "1" in str(refused.value)


def test_what_the_fixture_cannot_run_is_said(bench):
    """Without a stick the transfer is not run, and what it would exercise is not exercised."""
    words = explain(bench, written(bench), "left", "ferrow-sp-40", as_json=False)
    assert "transfer is not run, no stick is wired" in words
    assert "not exercised: takes clips over the service port" in words


def test_the_comparison_with_eight_cycles_is_said_to_be_one(bench):
    """Unchecked figures are marked, and eight cycles find more than a night of steady heat."""
    found = explained(bench, written(bench))["heat"]
    assert found["cycles"] == 0
    assert all(one["script"] < one["cycles"] for one in found["at"])
    assert "not checked against their own text" in explain(
        bench, written(bench), "", "", as_json=False
    )


def test_every_bound_that_will_be_stated_is_counted(bench):
    """Plug-ins and moved plugs state one each at the script's confidence, as at judgement."""
    file = bench / "ports.toml"
    file.write_text(PORTS)
    found = explained(bench, str(file), "left", "ferrow-sp-40")
    assert found["overall"]["bounds"] == 3


@pytest.mark.parametrize("script", ["quick", "evening", "overnight"])
def test_every_script_that_comes_with_soak_can_be_explained(bench, script):
    """No shipped script needs a fixture or a model to be explained."""
    words = explain(bench, script, "", "", as_json=False)
    assert words.startswith(f"{script}: ")
    assert "It cannot show:" in words


def test_what_is_not_there_is_one_sentence(bench):
    """An unknown script, fixture or model is named with what there is."""
    with pytest.raises(ScriptError, match="no such script"):
        explained(bench, "overnite.toml")
    with pytest.raises(FixtureError, match="no such fixture"):
        explained(bench, "quick", "right")
    with pytest.raises(FixtureError, match="no model sheet"):
        explained(bench, "quick", "left", "ferrow-sp-50")


CARDS = """\
name = "hands"
not_after = "1 h"
[[stretch]]
name = "hands"
attended = true
[stretch.by_hand.cards.sound]
function = "sound"
question = "Does sound come on both sides?"
"""


def test_what_a_person_judges_is_said_and_counts_as_exercised(bench):
    """A card says what it asks; the function that it names is no longer left out."""
    (bench / "hands.toml").write_text(CARDS)
    file = str(bench / "hands.toml")
    words = explain(bench, file, "left", "ferrow-sp-40", as_json=False)
    card = "Plays sound: Does sound come on both sides? (yes)"
    assert f"1 hands: {card}: a person judges it, no instrument" in words
    assert "not exercised: plays sound" not in words
    assert "not exercised: takes clips over the network" in words
    assert card.replace("Plays sound", "Sound") in explain(bench, file, "", "", as_json=False)


def test_what_is_seen_by_eye_gets_no_bound(bench):
    """Without a capture three starts are looked at; no share of failed ones is stated."""
    script = written(bench, warm=3)
    file = bench / "mine.toml"
    file.write_text(file.read_text().replace("off_s", "by_eye = true\noff_s"))
    words = explain(bench, script, "eye", "ferrow-sp-40", as_json=False)
    assert "looked at 40 s after power came: a person judges it, no instrument" in words
    assert "% of such fail" not in words
    assert "not exercised: starts by itself when it gets power" not in words
    assert "not exercised: plays clips on the video output" in words


def test_a_card_on_a_function_that_the_model_has_not_is_refused(bench):
    """One sentence with the nearest name."""
    (bench / "hands.toml").write_text(CARDS.replace('"sound"', '"sond"'))
    with pytest.raises(ScriptError, match="did you mean sound"):
        explained(bench, str(bench / "hands.toml"), "left", "ferrow-sp-40")


def test_the_page_on_cards_shows_a_script_that_can_be_run(bench):
    """Copied from the page, explained without a model."""
    page = Path(__file__).parents[2] / "docs" / "how-to" / "judge-by-hand-and-by-eye.md"
    script, _, eyes = [one.partition("```")[0] for one in page.read_text().split("```toml\n")[1:]]
    for number, text in enumerate((script, f'name = "eyes"\nnot_after = "2 h"\n{eyes}')):
        (bench / f"{number}.toml").write_text(text)
        assert "judges it, no instrument" in explain(
            bench, str(bench / f"{number}.toml"), "eye" if number else "", "", as_json=False
        )


def test_lost_colours_that_look_like_content_are_named_until_a_menu_is_taught(bench):
    """With what to do; nothing is said where lost colours are not asked for."""
    told = "a colour that is lost before the first good picture"
    plain = written(bench)
    assert told not in explain(bench, plain, "left", "ferrow-sp-40", as_json=False)
    asks = bench / "asks.toml"
    asks.write_text(
        Path(plain).read_text().replace("[stretch.picture]", "[stretch.picture]\ntints = 0")
    )
    words = explain(bench, str(asks), "left", "ferrow-sp-40", as_json=False)
    assert told in " ".join(words.split())
    assert "soak teach FIXTURE --as menu" in " ".join(words.split())
    fixture = bench / "fixtures" / "left.toml"
    fixture.write_text(f'{FIXTURE}menu = ["left-menu-1.jpg"]\n')
    assert told not in explain(bench, str(asks), "left", "ferrow-sp-40", as_json=False)
