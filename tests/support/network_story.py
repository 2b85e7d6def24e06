"""What the driver says while a pair of ports is switched, within a `network_bench`.

Prints one JSON list: what was done, and what was said until the driver had told of it.
"""

import json
import subprocess
import sys
from collections.abc import Callable
from contextlib import aclosing
from typing import Any

import trio
from bench_tools import open_driver, run_real
from network_bench import PORT, UNIT

from soak.bench.registry import Tools
from soak.errors import BenchFault
from soak.records import State

Told = Callable[[list[dict[str, Any]]], bool]


def last(state: str, why: str = "") -> Told:
    """Tell whether the last state said is this one."""

    def told(said: list[dict[str, Any]]) -> bool:
        states = [one for one in said if "state" in one]
        return bool(states) and states[-1]["state"] == state and why in states[-1].get("why", "")

    return told


def times_gone(number: int) -> Told:
    """Tell whether the link was said to be gone so often, and is back."""
    return lambda said: (
        sum(one.get("state") == "gone" for one in said) >= number and last("seen")(said)
    )


STORY: list[tuple[str, list[str], Told]] = [
    ("begins", [], last("gone")),
    ("comes", [f"link set {UNIT} up"], last("seen")),
    ("goes", [f"link set {UNIT} down"], last("gone")),
    ("comes again", [f"link set {UNIT} up"], last("seen")),
    ("blinks", [f"link set {UNIT} down", f"link set {UNIT} up"] * 2, times_gone(2)),
    ("switched off here", [f"link set {PORT} down"], last("blind", "switched off")),
    ("switched on here", [f"link set {PORT} up"], last("seen")),
    ("deleted", [f"link del {PORT}"], last("blind", "is gone")),
    (
        "back",
        [
            f"link add {PORT} type veth peer name {UNIT}",
            f"link set {PORT} up",
            f"link set {UNIT} up",
        ],
        last("seen"),
    ),
]


async def main(tools: Tools) -> list[dict[str, Any]]:
    """Play the story."""
    refused = {}
    for name in ("nope0", UNIT):  # there is none; switched off
        try:
            await open_driver("network", "network", settings(name), tools)
        except BenchFault as fault:
            refused[name] = str(fault)
    port = await open_driver("network", "network", settings(PORT), tools)
    chapters: list[dict[str, Any]] = [{"what": "refused", "said": refused}]
    said: list[dict[str, Any]] = []

    async def watch() -> None:
        async with aclosing(port.changes()) as records:
            async for one in records:
                if isinstance(one, State):
                    said.append({"state": one.state, "t_s": one.t_s, **one.detail})
                else:
                    said.append({one.quantity: one.value})

    async with trio.open_nursery() as nursery:
        nursery.start_soon(watch)
        for what, commands, told in STORY:
            said.clear()
            for command in commands:
                subprocess.run(["ip", *command.split()], check=True)
            while not told(said):
                await trio.sleep(0.01)
            chapters.append({"what": what, "said": list(said)})
        nursery.cancel_scope.cancel()
    await port.aclose()
    await port.aclose()
    return chapters


def settings(name: str) -> dict[str, str]:
    """Return the fixture's entry of a port."""
    return {"driver": "network_port", "interface": name, "port": "network"}


if __name__ == "__main__":
    json.dump(run_real(main), sys.stdout)
