"""Words for what an audit and a replay hand out: findings and reasons as sentences, rows as JSON lines."""

import json
from collections.abc import Sequence
from dataclasses import asdict, replace
from decimal import Decimal

from bridge.audit.explained import Explained
from bridge.audit.finding import Finding
from bridge.audit.outcome import LastLine, ReadingRow, RejectedRow
from bridge.audit.summary import Audit
from bridge.core.events import Reason
from bridge.core.explaining import Account
from bridge.reports.wording import finding_text, sentence
from bridge.words import say


def because(reasons: Sequence[Reason]) -> str:
    """All reasons of a row as one text."""
    return " ".join(sentence(reason) for reason in reasons)


def row_json(row: ReadingRow | RejectedRow) -> str:
    """A row as its line of the replay contract."""
    if isinstance(row, RejectedRow):
        return _json(_rejected_keys(row))
    return _json(_row_keys(row))


def _rejected_keys(row: RejectedRow) -> dict[str, object]:
    return {"n": row.n, "rejected": sentence(row.rejected), "raw": row.raw}


def _row_keys(row: ReadingRow) -> dict[str, object]:
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
    return keys


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


def explained_json(found: Explained | RejectedRow) -> str:
    """Why a reading stands where it does, as one JSON object: its row, then what its answers cost (natural logs)."""
    if isinstance(found, RejectedRow):
        return _json(_rejected_keys(found))
    weighed = found.weighed
    keys = _row_keys(found.row)
    keys["choices"] = list(found.choices)
    keys["changed"] = None if found.changed is None else _row_keys(found.changed)
    keys["unweighed"] = None if found.unweighed is None else sentence(found.unweighed)
    keys["known"] = [sentence(reason) for reason in found.known]
    keys["pull"] = None if weighed is None else weighed.pull
    keys["gap_s"] = None if weighed is None else weighed.gap_s
    keys["lost"] = None if weighed is None else weighed.lost
    keys["best"] = None if weighed is None else _account_keys(weighed.best)
    keys["other"] = None if weighed is None or weighed.other is None else _account_keys(weighed.other)
    keys["odds"] = None if weighed is None or weighed.other is None else float(f"{weighed.odds:.4g}")
    return _json(keys)


def _account_keys(account: Account) -> dict[str, object]:
    keys = {**asdict(account), "cost": account.cost}
    return {key: round(value, 4) + 0.0 if isinstance(value, float) else value for key, value in keys.items()}


def _plain(value: object) -> int | float:
    if isinstance(value, Decimal):
        return _number(value)
    raise TypeError(f"{type(value).__name__} does not stand in an audit")


def _number(t: Decimal) -> int | float:
    return int(t) if t == t.to_integral_value() else float(t)


def _json(keys: object) -> str:
    return json.dumps(keys, ensure_ascii=False)
