import hashlib

import pytest
from hypothesis import given
from hypothesis import strategies as st

from bridge.trail.canonical import canonical
from bridge.trail.chain import EMPTY, START, Head, link, record

TEXT = st.text(st.characters(exclude_categories=["Cs"]))


# FIPS 180-4 examples as in the reference values (digests computed there with hashlib).
@pytest.mark.parametrize(
    ("data", "digest"),
    [
        (b"abc", "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad"),
        (b"", "e3b0c44298fc1c149afbf4c8996fb92427ae41e4649b934ca495991b7852b855"),
        (
            b"abcdbcdecdefdefgefghfghighijhijkijkljklmklmnlmnomnopnopq",
            "248d6a61d20638b8e5c026930c3e6039a33ce45964ff2167f6ecedd419db06c1",
        ),
        (b"a" * 1_000_000, "cdc76e5c9914fb9281a1c7e284d73e67f1809a48a497200e046d39ccc7112cd0"),
    ],
)
def test_sha_256_is_the_published_one(data: bytes, digest: str) -> None:
    assert hashlib.sha256(data).hexdigest() == digest


def test_two_links_by_hand() -> None:
    first = (
        b'{"body":{"t":"1"},"boot":"b","id":"i1","job":null,"kind":"tick","mono":"0.5","person":null,'
        b'"seq":1,"utc":"2031-05-06T07:08:09.000000Z","wrench":null}'
    )
    second = (
        b'{"body":{"t":"2"},"boot":"b","id":"i2","job":"j","kind":"tick","mono":"0.7",'
        b'"person":"Orla \xc2\xab\\"Venn","seq":2,"utc":"2031-05-06T07:08:10.000000Z","wrench":"A1023"}'
    )
    assert START == b"\x00" * 32
    one = hashlib.sha256(b"\x00" + b"\x00" * 32 + first).digest()
    two = hashlib.sha256(b"\x00" + one + second).digest()

    made = record(1, "i1", "2031-05-06T07:08:09.000000Z", "0.5", "b", "tick", None, None, None, '{"t":"1"}')
    assert made == first
    assert link(START, made) == one
    made = record(2, "i2", "2031-05-06T07:08:10.000000Z", "0.7", "b", "tick", 'Orla «"Venn', "A1023", "j", '{"t":"2"}')
    assert made == second
    assert link(one, made) == two


@given(
    st.integers(1, 2**53 - 1),
    st.lists(TEXT, min_size=5, max_size=5),
    st.lists(st.none() | TEXT, min_size=3, max_size=3),
)
def test_record_is_canonical_json_of_the_whole(seq: int, texts: list[str], optional: list[str | None]) -> None:
    id_, utc, mono, boot, kind = texts
    person, wrench, job = optional
    whole = {
        "seq": seq,
        "id": id_,
        "utc": utc,
        "mono": mono,
        "boot": boot,
        "kind": kind,
        "person": person,
        "wrench": wrench,
        "job": job,
        "body": {"t": "1"},
    }
    made = record(seq, id_, utc, mono, boot, kind, person, wrench, job, '{"t":"1"}')
    assert made == canonical(whole)


def test_absent_is_not_the_word_null() -> None:
    absent = record(1, "i", "u", "m", "b", "tick", None, None, None, "{}")
    assert absent != record(1, "i", "u", "m", "b", "tick", "null", None, None, "{}")


def test_previous_and_event_do_not_run_together() -> None:
    assert link(b"\x01" * 32, b"\x02x") != link(b"\x01" * 31 + b"\x02", b"x")


@pytest.mark.parametrize("column", range(1, 9))
def test_refuses_a_column_that_is_no_text(column: int) -> None:
    columns: list[object] = [1, "i", "u", "m", "b", "tick", "p", "w", "j", "{}"]
    columns[column] = b"bytes"
    with pytest.raises(TypeError):
        record(*columns)  # type: ignore[arg-type]  # the point


def test_head_as_text() -> None:
    head = Head(17, "ab" * 32)
    assert str(head) == "17:" + "ab" * 32
    assert Head.parse(str(head)) == head
    assert str(EMPTY) == "0:" + "0" * 64


@pytest.mark.parametrize(
    "text",
    [
        "",
        "17",
        "17:",
        "17:ab",
        "-1:" + "ab" * 32,
        "017:" + "ab" * 32,
        "17:" + "AB" * 32,
        "17:" + "ab" * 32 + "\n",
        "٣:" + "ab" * 32,
    ],
)
def test_head_refuses_other_text(text: str) -> None:
    with pytest.raises(ValueError, match="SIZE:hex"):
        Head.parse(text)
