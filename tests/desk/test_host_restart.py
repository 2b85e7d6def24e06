"""A host that is about to restart says so where we look."""

from pathlib import Path

from soak.desk.soaking.awake import pending_restart


def test_a_host_that_plans_nothing_is_not_warned_of(tmp_path: Path):
    """No file, no sentence."""
    assert pending_restart(tmp_path) == ""


def test_a_planned_shutdown_is_told_with_its_time(tmp_path: Path):
    """The service manager writes microseconds since 1970 (systemd, from memory)."""
    file = tmp_path / "run/systemd/shutdown/scheduled"
    file.parent.mkdir(parents=True)
    file.write_text("USEC=1767650400000000\nWARN_WALL=1\nMODE=reboot\n")
    assert "will reboot at 2026-01-05 22:00 UTC" in pending_restart(tmp_path)


def test_updates_that_wait_for_a_restart_are_told(tmp_path: Path):
    """The updater of Debian and its kin leaves a file (update-notifier-common)."""
    (tmp_path / "run").mkdir()
    (tmp_path / "run/reboot-required").write_text("*** System restart required ***\n")
    assert "wait for a restart" in pending_restart(tmp_path)
