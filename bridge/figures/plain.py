"""The figures as plain values for another program."""

from bridge.figures.tally import EDGES, MOST_SEEDS, Matched, Share, Tally, ranked

Plain = dict[str, object]


def plain(tally: Tally) -> Plain:
    """All figures of a tally: whole numbers, names and lists of them."""
    return {
        "jobs": tally.jobs,
        "steps": tally.steps,
        "readings": tally.readings,
        "program": _matched(tally.program),
        "in_line": _matched(tally.in_line),
        "nearest": _matched(tally.nearest),
        "confidence": [
            {"from": low, "to": high, "readings": share.readings, "right": share.right}
            for (low, high), share in zip(stretches(), tally.confidence, strict=True)
        ],
        "questions": tally.questions,
        "answers": tally.answers,
        "answered": _share(tally.answered),
        "jobs_still_asking": tally.unanswered,
        "jobs_ending_right": tally.ends_right,
        "traceless": tally.traceless,
        "left_out_without_trace": tally.left_out,
        "left_out_named": tally.left_out_told,
        "within_but_outside": tally.within_outside,
        "astray": [
            {"job": each.job, "due": list(each.due), "open": list(each.open)} for each in tally.astray[:MOST_SEEDS]
        ],
    }


def stretches() -> list[tuple[str, str]]:
    """Both ends of each stretch of confidence in `Tally.confidence`."""
    return list(zip(("0", *EDGES[:-1]), EDGES, strict=True))


def _matched(matched: Matched) -> Plain:
    return {
        "all": _share(matched.all),
        "late_counted": _share(matched.late_counted),
        "late_uncounted": _share(matched.late_uncounted),
        "unproven": _share(matched.unproven),
        "by_slip": {slip: _share(share) for slip, share in ranked(matched.by_slip)},
    }


def _share(share: Share) -> dict[str, int]:
    return {"right": share.right, "wrong": share.wrong, "asked": share.asked}
