"""Words for what an audit and a replay hand out: findings and reasons as sentences, rows as JSON lines."""

import json
from collections.abc import Sequence
from dataclasses import asdict, replace
from decimal import Decimal

from bridge.audit.finding import Finding
from bridge.audit.outcome import LastLine, ReadingRow, RejectedRow
from bridge.audit.summary import Audit
from bridge.core.events import Reason
from bridge.words import say


def sentence(reason: Reason) -> str:
    """A reason in words."""
    if reason.code == "match.person-said" and not any(reason.args):
        return say("match.person-said-unnamed")
    return say(reason.code, *reason.args)


def because(reasons: Sequence[Reason]) -> str:
    """All reasons of a row as one text."""
    return " ".join(sentence(reason) for reason in reasons)


def finding_text(finding: Finding) -> str:
    """A finding in words, without its step."""
    return say(finding.code, *(text or say("record.nobody-named") for text in finding.args))


def row_json(row: ReadingRow | RejectedRow) -> str:
    """A row as its line of the replay contract."""
    if isinstance(row, RejectedRow):
        return _json({"n": row.n, "rejected": sentence(row.rejected), "raw": row.raw})
    keys: dict[str, object] = {
        "n": row.n,
        "t": _number(row.t),
        "wrench": row.wrench,
        "counter": row.counter,
        "value": row.value,
        "unit": row.unit,
        "newton_metres": row.newton_metres,
        "assignment": row.assignment,
        "step": row.step,
        "position_by": row.position_by,
        "verdict": row.verdict,
        "confidence": float(row.confidence),
        "runner_up": row.runner_up,
    }
    keys["because"] = because(row.because)
    if row.question is not None:
        keys["question"] = row.question
    return _json(keys)


def last_json(last: LastLine) -> str:
    """The last line of the replay contract."""
    job = {
        "steps": last.steps,
        "done": last.done,
        "due": list(last.due),
        "open": list(last.open),
        "findings": [finding_keys(finding) for finding in last.findings],
        "head": last.head,
    }
    return _json({"job": job})


def finding_keys(finding: Finding) -> dict[str, str | None]:
    """A finding as the keys of the replay contract."""
    text = finding_text(finding)
    return {"code": finding.code, "severity": finding.severity, "step": finding.step, "text": text}


def audit_json(found: Audit) -> str:
    """The whole audit as one JSON object; times are seconds, findings as in the replay contract."""
    keys = asdict(replace(found, findings=()))
    keys["findings"] = [finding_keys(finding) for finding in found.findings]
    keys["release"] = say("record.not-release")
    return json.dumps(keys, ensure_ascii=False, default=_plain)


def _plain(value: object) -> int | float:
    if isinstance(value, Decimal):
        return _number(value)
    raise TypeError(f"{type(value).__name__} does not stand in an audit")


def _number(t: Decimal) -> int | float:
    return int(t) if t == t.to_integral_value() else float(t)


def _json(keys: object) -> str:
    return json.dumps(keys, ensure_ascii=False)
