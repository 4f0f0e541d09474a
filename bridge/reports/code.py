"""What the square code on a paper says: which sheet it is by whole digest, and of a job its id and the trail's head."""


def sheet_text(sheet: str, revision: str, digest: str) -> str:
    """One fact a line, in words of the trade, so that any reader shows something a person understands."""
    return f"sheet {sheet}\nrevision {revision}\nsha256 {digest}"


def job_text(sheet: str, revision: str, digest: str, job: str, head: str) -> str:
    """The sheet's lines, then those of the job."""
    return f"{sheet_text(sheet, revision, digest)}\njob {job}\nhead {head}"


def modules(text: str) -> tuple[tuple[bool, ...], ...]:
    """The code's rows, dark or light, without its quiet zone. A quarter of it may be dirty or torn."""
    import segno

    made = segno.make_qr(text, error="q", boost_error=False)
    return tuple(tuple(bool(module) for module in row) for row in made.matrix)
