"""Whose language is spoken: the bench's, else the environment's, else English."""

import os
import subprocess
import sys

import pytest
from one_unit_bench import bench_with_k1
from typed_bench import typed

from soak.desk.bench_card import read_bench
from soak.desk.bench_folder import BenchFolder
from soak.errors import FixtureError
from soak.reader import of_environment


@pytest.mark.parametrize(
    ("environment", "code"),
    [
        ({}, "en"),
        ({"LANG": "de_DE.UTF-8"}, "de"),
        ({"LANG": "de"}, "de"),
        ({"LANG": "de_DE.UTF-8", "LC_MESSAGES": "en_GB.UTF-8"}, "en"),
        ({"LANG": "en_GB.UTF-8", "LC_MESSAGES": "de_AT@euro"}, "de"),
        ({"LANG": "en_GB", "LC_MESSAGES": "en_GB", "LC_ALL": "de_CH.utf8"}, "de"),
        ({"LANG": "de_DE.UTF-8", "LC_ALL": "C"}, "en"),
        ({"LANG": "de_DE.UTF-8", "LC_ALL": "C.UTF-8"}, "en"),
        ({"LANG": "POSIX", "LANGUAGE": "de"}, "en"),
        ({"LANG": "de_DE.UTF-8", "LC_ALL": ""}, "de"),
        ({"LANG": "en_GB.UTF-8", "LANGUAGE": "tlh:de:en"}, "de"),
        ({"LANG": "tlh_KX.UTF-8"}, "en"),
    ],
)
def test_the_environment_says_the_language_as_for_every_program(environment, code):
    """GNU gettext 0.22 manual, 2.3: LANGUAGE, LC_ALL, LC_MESSAGES, LANG; none of it in C."""
    assert of_environment(environment) == code


@pytest.mark.parametrize(
    ("file", "locale", "said"),
    [
        ("", "C", "no soak yet"),
        ("", "de_DE.UTF-8", "noch keinen Dauerlauf"),
        ('name = "x"\nlanguage = "de"\n', "C", "noch keinen Dauerlauf"),
        ('name = "x"\nlanguage = "en"\n', "de_DE.UTF-8", "no soak yet"),
        ('name = "x"\nlanguage = "tlh"\n', "de_DE.UTF-8", "noch keinen Dauerlauf"),
    ],
)
def test_the_benchs_own_language_goes_before_the_environments(
    tmp_path, monkeypatch, file, locale, said
):
    """One that the bench file names and soak does not speak leaves it to the environment."""
    for name in ("LANGUAGE", "LC_ALL", "LANG"):
        monkeypatch.delenv(name, raising=False)
    monkeypatch.setenv("LC_MESSAGES", locale)
    bench = bench_with_k1(tmp_path / "bench")
    if file:
        (bench / "bench.toml").write_text(file)
    assert said in typed("--bench", str(bench), "judge", "last").err


def test_a_language_that_is_not_there_is_refused_with_those_that_are(tmp_path):
    """By whoever needs the bench file."""
    bench = bench_with_k1(tmp_path / "bench")
    (bench / "bench.toml").write_text('name = "x"\nlanguage = "tlh"\n')
    with pytest.raises(FixtureError, match="there is de, en"):
        read_bench(BenchFolder(bench))


def test_english_needs_no_catalogue(tmp_path):
    """What says nothing but English loads no catalogue and no Babel."""
    bench = bench_with_k1(tmp_path / "bench")
    code = "import sys\nfrom soak.cli.main import main\ntry:\n    main()\nfinally:\n"
    code += "    print('babel' in sys.modules)\n"
    words = ["--bench", str(bench), "unit", "list"]
    spoken = {
        locale: subprocess.run(
            [sys.executable, "-c", code, *words],
            env={**os.environ, "LC_ALL": locale},
            capture_output=True,
            text=True,
            check=True,
        ).stdout.split()[-1]
        for locale in ("C.UTF-8", "de_DE.UTF-8")
    }
    assert spoken["C.UTF-8"] == "False"
