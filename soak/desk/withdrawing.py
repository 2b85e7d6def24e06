"""Withdraw a demand whose limit was wrong, in sight of everybody who reads the page."""

from collections.abc import Sequence
from pathlib import Path

from soak.desk.bench_folder import BenchFolder
from soak.desk.units import open_ledger
from soak.errors import UsageError
from soak.journal import open_evidence
from soak.judge.judging import demanded
from soak.records import Requirement
from soak.settings import nearest_name
from soak.words import Message, joined, msg


def withdraw(bench_path: Path, soak: str, demand: str, because: str, by: str) -> Message:
    """Withdraw a demand of a soak; without one, list the soak's demands.

    Raises
    ------
    UsageError
        If the soak has no such demand.
    LedgerError
        If it is withdrawn already, or reason or initials are missing.
    """
    folder = BenchFolder(bench_path).find_soak(soak)
    header = open_evidence(folder).header
    if not demand:
        return joined(
            "\n",
            [
                joined("\n    ", [requirement.id, demanded(requirement)])
                for requirement in header.requirements
            ],
        )
    one = _meant(header.requirements, demand, header.soak_id)
    withdrawn = open_ledger(bench_path).withdraw_demand(
        header.soak_id, one.id, because=because, by=by
    )
    done = msg(
        "{soak}: withdrawn by {by} on {on}: {demand}",
        soak=header.soak_id,
        by=withdrawn.by,
        on=str(withdrawn.on),
        demand=demanded(one),
    )
    stays = msg(
        "what failed it stays on the page; soak by a script that demands what is right instead"
    )
    return joined("\n", [done, stays])


def _meant(needs: Sequence[Requirement], text: str, soak_id: str) -> Requirement:
    exact = [need for need in needs if need.id == text]
    requirements = exact or [need for need in needs if text.lower() in need.id.lower()]
    if len(requirements) == 1:
        return requirements[0]
    listed = msg("`soak withdraw {soak}` lists them", soak=soak_id)
    if requirements:
        raise UsageError(
            msg(
                "{text}: {found} demands of {soak} are called so; {listed}",
                text=text,
                found=len(requirements),
                soak=soak_id,
                listed=listed,
            )
        )
    names = {name: need.id for need in needs for name in (need.id, need.id.rpartition("/")[2])}
    nearest = nearest_name(text, list(names))
    hint = msg("did you mean {nearest}?", nearest=names[nearest]) if nearest else listed
    raise UsageError(
        msg(
            "{soak} demands nothing called {text}; {hint}", soak=soak_id, text=repr(text), hint=hint
        )
    )
