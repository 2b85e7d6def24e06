"""A host that may sleep does not watch a unit: sleep is held off, or the operator says so."""

from pathlib import Path

import pytest

from soak.desk.soaking import awake
from soak.errors import UsageError


def keeper(folder: Path, monkeypatch: pytest.MonkeyPatch, does: str) -> None:
    """Put a program in the place of the system's own."""
    program = folder / "systemd-inhibit"
    program.write_text(f"#!/bin/sh\n{does}\n")
    program.chmod(0o755)
    monkeypatch.setenv("PATH", f"{folder}:/usr/bin:/bin")
    monkeypatch.setattr(awake.sys, "platform", "linux")


def test_sleep_is_held_off_for_as_long_as_the_soak_runs(tmp_path, monkeypatch):
    """The system's program holds while its input is open, and is let go at the end."""
    over = tmp_path / "over"
    keeper(tmp_path, monkeypatch, f"cat; touch {over}")
    with awake.kept_awake(may_sleep=False) as said:
        assert said == "This host is kept awake."
        assert not over.exists()
    assert over.exists()


def test_a_host_that_refuses_to_stay_awake_gets_no_unattended_soak(tmp_path, monkeypatch):
    """One sentence says what to do; --may-sleep is the operator's word that it is done."""
    keeper(tmp_path, monkeypatch, "exit 1")
    with pytest.raises(UsageError, match=r"turn sleep off.*--may-sleep"):
        awake.kept_awake(may_sleep=False).__enter__()
    with awake.kept_awake(may_sleep=True) as said:
        assert "if it sleeps, the soak ends" in said


def test_a_host_without_such_a_program_gets_no_unattended_soak(monkeypatch):
    """Nobody is left to guess whether it stays awake."""
    monkeypatch.setenv("PATH", "/nowhere")
    with pytest.raises(UsageError, match="no way to hold sleep off"):
        awake.kept_awake(may_sleep=False).__enter__()


class Kernel32:
    """Stands for Windows' library: keeps what it was told; refuses if `answers` is 0."""

    def __init__(self, answers: int) -> None:
        self.told: list[int] = []
        self.answers = answers

    def SetThreadExecutionState(self, flags: int) -> int:  # noqa: N802 - Windows' own name
        self.told.append(flags)
        return self.answers


def windows(monkeypatch: pytest.MonkeyPatch, answers: int) -> Kernel32:
    kernel = Kernel32(answers)
    libraries = type("Libraries", (), {"kernel32": kernel})()
    monkeypatch.setattr(awake.ctypes, "windll", libraries, raising=False)
    return kernel


def test_windows_is_asked_by_its_own_call_and_let_go(monkeypatch):
    """ES_CONTINUOUS | ES_SYSTEM_REQUIRED, then ES_CONTINUOUS alone: the API's documented values."""
    kernel = windows(monkeypatch, 0x80000000)
    with awake.kept_awake(may_sleep=False) as said:
        assert said == "This host is kept awake."
        assert kernel.told == [0x80000001]
    assert kernel.told == [0x80000001, 0x80000000]


def test_a_windows_that_refuses_gets_no_unattended_soak(monkeypatch):
    """It answers 0 where it will not."""
    windows(monkeypatch, 0)
    with pytest.raises(UsageError, match="refused to hold sleep off"):
        awake.kept_awake(may_sleep=False).__enter__()
