"""What paper can show, and that nothing vanishes where it cannot."""

from hypothesis import given
from hypothesis import strategies as st
from reportlab.pdfbase.pdfmetrics import stringWidth

from bridge.reports.fonts import PLAIN, folded, paper_fonts


def test_signs_of_the_trade_are_there() -> None:
    """And the letters of the languages of western Europe."""
    text = "· ° ± µ … × ≤ ≥ – äöüÄÖÜß éèêñçøåæ Łž ² ½"
    assert paper_fonts().shown(text) == text
    assert not paper_fonts().lacks(text)


def test_a_lacking_sign_stands_as_its_number() -> None:
    """Greek mu is the micro sign; what has no picture is named."""
    assert paper_fonts().shown("μm Жα\n") == "µm [U+0416][U+03B1][U+000A]"
    assert paper_fonts().lacks("Ж")
    assert paper_fonts().shown("e\u0301") == "é"


@given(st.text())
def test_no_sign_is_lost(text: str) -> None:
    """Whatever is written, as many signs come out at least as letters go in, and all of them can be shown."""
    fonts = paper_fonts()
    shown = fonts.shown(text)
    assert all(ord(sign) in fonts.known for sign in shown)
    assert all(f"{ord(sign):04X}" in shown for sign in text if ord(sign) > 0x2FFFF)
    assert bool(shown) == bool(text)


@given(st.text(st.sampled_from("abcW ·"), max_size=200))
def test_folded_lines_fit_and_keep_every_letter(text: str) -> None:
    """Only blanks may go at a line's end."""
    lines = folded(text, 60.0, 8).split("\n")
    assert all(stringWidth(line, PLAIN, 8) <= 60.0 for line in lines)
    assert "".join(lines).replace(" ", "") == text.replace(" ", "")
