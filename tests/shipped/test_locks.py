"""The lock files: users get what runs the program and no more, in the versions that are tested."""

import re
import tomllib

import pytest
from wheel import HOUSE

LINE = re.compile(r"[a-z0-9-]+==\S+( ; [^#\\]+)? \\|    --hash=sha256:[0-9a-f]{64}( \\)?")
LOCKS = ("requirements.lock", "requirements-build.lock", "requirements-dev.lock")
PROJECT = tomllib.loads((HOUSE / "pyproject.toml").read_text(encoding="utf-8"))


def locked(name: str) -> dict[str, frozenset[str]]:
    """Return a lock's entries, each with its hashes."""
    found: dict[str, set[str]] = {}
    for line in (HOUSE / name).read_text(encoding="utf-8").splitlines():
        if not line.startswith(" "):
            entry = line.removesuffix(" \\")
            found[entry] = set()
        else:
            found[entry].add(line.strip(" \\"))
    return {entry: frozenset(hashes) for entry, hashes in found.items()}


def names_of(wanted: list[str]) -> set[str]:
    """Return the names of packages of which at least a version is wanted."""
    return {re.split(r"[^a-z0-9-]", one)[0] for one in wanted if isinstance(one, str)}


@pytest.mark.parametrize("name", LOCKS)
def test_a_lock_holds_names_versions_and_hashes_alone(name):
    """No header, no index and no address: the file is the same wherever it is made."""
    lines = (HOUSE / name).read_text(encoding="utf-8").splitlines()
    assert [line for line in lines if not LINE.fullmatch(line)] == []
    assert all(locked(name).values())


@pytest.mark.parametrize("name", LOCKS[:2])
def test_users_get_the_versions_that_are_tested(name):
    """What users and builders install is part of what tests run with, hash by hash."""
    assert locked(name).items() <= locked(LOCKS[2]).items()


def test_users_get_what_runs_the_program_and_nothing_of_its_makers():
    """Every dependency is locked; extras, tools of tests and the builder are not."""
    there = {entry.partition("==")[0] for entry in locked(LOCKS[0])}
    assert names_of(PROJECT["project"]["dependencies"]) <= there
    extras = names_of(
        [one for more in PROJECT["project"]["optional-dependencies"].values() for one in more]
    )
    groups = PROJECT["dependency-groups"]
    assert there & (extras | names_of(groups["dev"]) | names_of(groups["build"])) == set()
