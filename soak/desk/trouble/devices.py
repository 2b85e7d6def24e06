"""What the bench's fixtures name: gone, held by another program, another, or by a loose name."""

import json
from collections.abc import Iterator, Sequence
from pathlib import Path
from shlex import quote

from soak.bench.host.holders import Holder, holders
from soak.bench.reached import Way
from soak.desk.proof.challenges import known_as
from soak.desk.trouble.closed import of_closed
from soak.desk.trouble.found import Finding, Trouble, Unseen, command
from soak.desk.trouble.host import Host
from soak.desk.trouble.named import Named
from soak.words import Message, counted, joined, msg


def of_devices(names: Sequence[Named], host: Host, bench: Path) -> Iterator[Finding]:
    """Tell what is gone, closed to this user, held by another program, or named by a loose name."""
    if host.devices is None and any(name.reached.way is Way.USB for name in names):
        yield Unseen(msg("the USB devices that fixtures name: this system does not list them"))
    for name in names:
        if name.missing is not None:
            yield Trouble(joined(": ", [name.where, name.missing]), _mend_name(name))
    yield from of_closed(names, host)
    yield from _held(names, host)
    yield from _another(names, bench)
    yield from _loose(names)


def _mend_name(name: Named) -> Sequence[Message]:
    """Return what mends a name that stands for nothing, or for several."""
    if name.reached.way is Way.FOLDER:
        return [
            command("lsblk -o NAME,SIZE,LABEL,MOUNTPOINT"),
            command("udisksctl mount -b /dev/PARTITION"),
        ]
    key = f"`{name.reached.key}`"
    file = name.fixture.file
    write = msg("plug it in, or write as {key} into {file} what is there:", key=key, file=file)
    return [write, command("soak find")]


def _held(names: Sequence[Named], host: Host) -> Iterator[Finding]:
    nodes = {name.node: name for name in names if name.node and name.opens}
    if not nodes:
        return
    if not host.at("/proc").is_dir():
        yield Unseen(msg("which program holds a device: this system does not tell"))
        return
    held, closed = holders(nodes, host.at("/proc"))
    for node, processes in sorted(held.items()):
        for process in processes:
            yield _told_held(nodes[node], process)
    if closed:
        sentence = counted(
            closed,
            "whether {count} program of other users holds a device: `sudo fuser -v {nodes}`",
            "whether {count} programs of other users hold a device: `sudo fuser -v {nodes}`",
            nodes=joined(" ", sorted(nodes)),
        )
        yield Unseen(sentence)


def _told_held(name: Named, by: Holder) -> Trouble:
    """Tell of a holder: of a port it takes bytes away; a camera may be held open by several."""
    sentence = msg(
        "{where}: process {process} ({name}) holds {node}",
        where=name.where,
        process=by.process,
        name=by.name,
        node=name.node,
    )
    if by.is_soak:
        sentence = msg("{told}: a soak runs with it", told=sentence)
        return Trouble(sentence, [command("soak show")], in_the_way=False)
    end = f"sudo systemctl stop {by.service}" if by.service else f"kill {by.process}"
    return Trouble(sentence, [command(end)], in_the_way=name.reached.way is Way.SERIAL)


def _another(names: Sequence[Named], bench: Path) -> Iterator[Finding]:
    """Tell where a name stands for another device than when its fixture was proved."""
    for name in names:
        key, now = name.is_
        on, known = known_as(bench, name.fixture.file)
        before = str(known.get(name.source, {}).get(key, ""))
        if now and before and now != before:
            sentence = msg(
                "{where}: {name} is {now}, and was {before} when it was proved on {day}",
                where=name.where,
                name=name.reached.name,
                now=now,
                before=before,
                day=on,
            )
            line = msg("soak prove {file} --unit UNIT", file=quote(name.fixture.file))
            yield Trouble(sentence, [msg("put back what was there, or prove it anew:"), line])


def _loose(names: Sequence[Named]) -> Iterator[Finding]:
    for name in names:
        if name.lasting:
            sentence = msg(
                "{where}: {name} is given out in the order of plugging, and may be another "
                "device tomorrow",
                where=name.where,
                name=name.reached.name,
            )
            line = f"{name.reached.key} = {json.dumps(name.lasting)}"
            yield Trouble(sentence, [command(line)], in_the_way=False)
