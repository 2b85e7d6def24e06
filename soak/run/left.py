"""How long a soak that runs still takes, by its journal alone."""

from soak.evidence import Evidence
from soak.marks import StretchBegins, facts
from soak.run.earlier import earlier
from soak.run.script import build_checks, script_again


def left_s(evidence: Evidence) -> float:
    """Return what is left of a soak if all goes well, s; never below 0.

    Raises
    ------
    ScriptError
        If its header holds checks that this version does not know.
    """
    header = evidence.header
    script = script_again(header.script)
    done = earlier(evidence, script)
    begun = {mark.stretch: mark.t_s for mark, _ in facts(evidence, StretchBegins)}
    whole_s = 0.0
    for stretch in script.stretches:
        if done[stretch.name]["finished"]:
            continue
        checks = build_checks(script, stretch, header.fixture, header.model_sheet)
        lasts_s = max([stretch.lasts_s, *(check.expected_s() for check in checks)])
        ran_s = evidence.ends_s - begun.get(stretch.name, evidence.ends_s)
        whole_s += max(0.0, lasts_s - ran_s)
    return whole_s
