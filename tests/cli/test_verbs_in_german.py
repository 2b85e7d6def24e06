"""At a German bench every verb that only tells or reckons tells it in German, to the last line."""

import json
import os
import re
import shutil
from dataclasses import replace

import numpy as np
import pytest
from faulty_clips import jpeg
from made_up_host import (
    ISOCHRONOUS_IN_BYTES_3072,
    LINK,
    RELAY,
    STICK,
    in_a_line,
    trouble_of_a_plain_user,
)
from typed_bench import SHEET, TypedBench, typed

from soak.desk.trouble import host as host_file
from soak.words import msg

ENGLISH = re.compile(
    r"\b(the|of|and|is|are|were|that|which|with|from|not|no|its|they|than|by|on|at least|at most|"
    r"fewer|less|more|worked|failed|given|nothing|nobody|give|take|write)\b"
)
"""English words that German has not; `was`, `in`, `so`, `an` and `am` are German, too."""
AS_THEY_ARE = re.compile(
    r"soak [a-z-]+( [a-z]+)*|`[^`]*`|--[a-z-]+|[\w./-]*/[\w./-]+|Gu, Ng, Tang .*|"
    r"\w+ = [^#]*|\[[\w.]+\]|[\w-]+\.(toml|csv|json|sqlite|jpg|mjpeg|mp4)|'[^']*'"
)
"""Commands, options, paths, keys, and what somebody typed stay as they are."""
TYPED = sorted(re.findall(r'"([^"\n]+)"', SHEET.read_text("utf-8")), key=len, reverse=True)
"""What a model sheet calls its model, functions, ports and spots."""
LIVES = "unit,hours,failed,entry,group\n" + "".join(
    f"U{at},{20 + 7 * at},{int(at % 3 > 0)},8,{'AB'[at % 2]}\n" for at in range(36)
)
COSTS = "--warranty 700 --per-hour 0.07 --failed-here 3 --came-back 500"
SAID = {
    "evidence starts --good 120": "120 von 120 Starts gelangen",
    "evidence starts --good 19 --failed 1 --sides two": "mindestens 0,127 % (1 von 790)",
    "evidence starts --show 0.01 --may-fail 2": "von denen höchstens 2 misslingen dürfen",
    "evidence starts --good 19 --failed 1 --other-good 10": "Exakter Test nach Fisher",
    "evidence hours --clean 7h": "7 h",
    "evidence hours --clean 1000 --faults 2 --sides two": "2 Fehler in 1000 h",
    "evidence hours --show 0.01": "weniger als ein Schub",
    "evidence hours --clean 9 --faults 2 --other-clean 9 --other-faults 9": "Fehler in 9 h",
    "evidence gone --seen 3 --in 4h --clean 7h": "das genügt",
    "evidence gone --seen 1 --in 4h --clean 7h --again 2": "kam in 7 h 2-mal wieder",
    "evidence tries --passes 0.3": "besteht mindestens einen von 3 mit 66 %",
    "evidence plan --good 0.01 --bad 0.10": "planen Sie die Nacht dafür",
    "evidence plan --good 100h --bad 10h": "Schub 1",
    "evidence lives lives.csv --age 30 --window 40": "Halbwertszeit (Kaplan-Meier)",
    f"evidence length --lives lives.csv {COSTS}": "mit 90 % Vertrauen",
    f"evidence length --shape 0.5 --scale 900 {COSTS}": "ohne Dauerlauf",
    "script explain overnight --model ferrow-sp-40": "Es kann nicht zeigen:",
    "script explain brief.toml --fixture sim --model ferrow-sp-40": "Wärme, verglichen mit acht",
    "infrared 60 --emissivity 0.1": "in Wahrheit",
    "heat K1": "kein Wärmezyklus von mindestens 5 K",
    "find": "Serielle Anschlüsse",
    "trouble": "im Weg: fixtures/real.toml, switch: es steckt nichts",
    "show": "bereit",
    "show K1": "kein Ereignis des Geräts",
    "judge K1": "nicht bereit: unvollständig",
    "causes K1": "",
    "compare K1 K3": "Urteil",
    "unit list": "verkauft",
    "unit show K4": "Auftrag K4-1 beginnt: gekauft",
    "unit show K1": "nicht bereit: unvollständig (",
    "propose fan": 'text = "Dreht der Lüfter bei jedem Start?"',
    "unit repair K1 lid --function video --kind other": "keine Art von Reparatur",
    "unit sold K2 --where shop": "ist schon verkauft",
    "unit withdraw K1 1 --because x --by SM": "kam K1 ins Bestandsbuch",
    "unit wiped K4 --how reset --verified '' --by SM": "wie das Löschen nachgeprüft wurde fehlt",
    "unit opened K4 lid --on 2030-01-01": "der Tag der Öffnung",
    "evidence starts --good 10 --failed 1 --confidence 95": "das Vertrauen ist 95",
    "evidence hours --clean soon": "'soon' ist keine Dauer",
    "evidence lives worse.csv": "keine Zahl",
    "script explain worse.toml": "eine ganze Zahl von 0 bis",
    "picture night.mjpeg": "8 Bilder",
    "clip make stick.avi --seconds 1 --rate 5": "Kopieren Sie ihn auf den Stick",
    "key": "Fingerabdruck:",
    "backup ../kept.zip": "Dateien",
    "backup reports/kept.zip": "den eigenen Aufzeichnungen",
    "restore bench.toml new": "ist keine Sicherung von soak",
    "clear lives.csv --yes": "liegt im Ordner des Prüfstands selbst",
}
"""What is typed, and something that it must say."""


@pytest.fixture(scope="module")
def german(whole_bench, tmp_path_factory):
    """Give a bench that speaks German, with what its verbs are asked to read."""
    bench = TypedBench(tmp_path_factory.mktemp("german") / "bench")
    shutil.copytree(whole_bench.path, bench.path)
    typed("--bench", str(bench.path), "judge", "K1")
    bench.write("bench.toml", 'name = "Halle"\nlanguage = "de"\n')
    bench.write("lives.csv", LIVES)
    bench.write("worse.csv", "unit,hours,failed\nU1,soon,1\n")
    bench.write(
        "worse.toml", (bench.path / "scripts" / "brief.toml").read_text().replace("= 2", "= -1")
    )
    bench.write("brief.toml", (bench.path / "scripts" / "brief.toml").read_text())
    bench.write("night.mjpeg", 8 * jpeg(np.full((72, 128, 3), 90, np.uint8)))
    return bench


def left_in_english(text: str) -> dict[str, list[str]]:
    """Return the lines that have English words in them, but for what stays as it is."""
    plain = {}
    for line in text.splitlines():
        plain[line] = line
        for name in TYPED:
            plain[line] = re.sub(re.escape(name), " ", plain[line], flags=re.IGNORECASE)
        plain[line] = AS_THEY_ARE.sub(" ", plain[line])
    return {line: words for line, rest in plain.items() if (words := ENGLISH.findall(rest))}


@pytest.mark.parametrize("words", SAID)
def test_a_verb_tells_in_german_what_it_tells(german, words, monkeypatch):
    """No line is left in English: sentences, tables, and what is wrong with what was typed."""
    monkeypatch.chdir(german.path)
    said = typed("--bench", ".", *[word.strip("'") for word in words.split(" ")])
    assert left_in_english(said.out + said.err) == {}
    assert SAID[words] in said.out + said.err
    assert said.out + said.err


def test_the_list_of_words_finds_a_line_that_is_left(german):
    """It could fail: in English nearly every verb is caught."""
    said = typed("evidence", "starts", "--good", "120")
    assert left_in_english(said.out)


@pytest.mark.skipif(os.geteuid() != 0, reason="device nodes are made by root")
def test_no_trouble_is_left_in_english(made_up, wired, monkeypatch):
    """Nearly all there is to tell, at once."""
    card = '[capture]\ndriver = "opencv"\nsource = "/dev/v4l/by-id/usb-card-{number}"\n'
    adapters = [
        replace(made_up.adapter(at, f"R{at}", group=20 * at), socket="1-4.2") for at in (0, 1)
    ]
    monkeypatch.setattr(host_file, "plugged_in", lambda: adapters)
    monkeypatch.setattr(host_file, "is_set_by_a_server", lambda: False)
    refused = msg("the system refused to hold sleep off")
    monkeypatch.setattr(host_file, "kept_or_why_not", lambda: refused)
    made_up.write("sys/power/state", "mem\n")
    made_up.write("etc/systemd/logind.conf", "IdleAction=suspend\n")
    made_up.write("proc/acpi/button/lid/LID0/state")
    made_up.write("sys/class/power_supply/AC/type", "Mains\n")
    made_up.write("sys/class/power_supply/AC/online", "0\n")
    made_up.write("run/reboot-required")
    made_up.usb("1-4.1", "0bda:8153")
    for number in (0, 1):
        made_up.camera(number, f"1-{number + 1}", ISOCHRONOUS_IN_BYTES_3072)
        text = RELAY.format(port=f"/dev/ttyUSB{number}") + card.format(number=number)
        wired.write(f"fixtures/f{number}.toml", text + LINK.format(device="1-4.1")[11:])
    made_up.holds(7, "/dev/ttyUSB0", "x")
    made_up.holds(8, "/dev/ttyUSB1", "soak")
    wired.write("fixtures/gone.toml", RELAY.format(port="/dev/ttyUSB7"))
    wired.write("fixtures/twice.toml", RELAY.format(port="1a86:7523"))
    wired.write("fixtures/disk.toml", STICK.format(device="/dev/sdz"))
    wired.write("fixtures/wrong.toml", 'name = "w"\n[switch]\ndriver = "serial_tex"\n')
    proved = {"on": "2026-01-05", "proved": {"is": {"switch": {"adapter": "1a86:7523/X"}}}}
    wired.write("proved.json", json.dumps({"f0.toml": proved}))
    wired.write("bench.toml", 'name = "Halle"\nlanguage = "de"\n')
    (wired.path / "reports").mkdir()
    said = trouble_of_a_plain_user(wired)
    assert said.code == 3
    assert left_in_english(said.out.replace(" nobody", " anna")) == {}  # a user, no word
    for words in (
        "darf nur die Gruppe",
        "hängen am USB-Bus 1",
        "hängt am Hub 1-4",
        "läuft auf Akku",
        "Niemand stellt die Uhr",
        "Ohne Eingaben schläft er ein",
        "hält /dev/ttyUSB0 fest",
        "Ein Dauerlauf läuft damit",
        "als der Aufbau am 2026-01-05 geprüft wurde",
        "das auch fixtures/f0.toml, link nennt",
        "in der Reihenfolge des Einsteckens",
    ):
        assert words in in_a_line(said.out)
