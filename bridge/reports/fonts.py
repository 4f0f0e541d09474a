"""The fonts of paper. They come with the library and are embedded, so that paper looks alike everywhere."""

from functools import cache

from bridge.pictures.fonts import Fonts

PLAIN, BOLD = "witnessmark-plain", "witnessmark-bold"
_FILES = ((PLAIN, "Vera.ttf"), (BOLD, "VeraBd.ttf"))
_CONTROL = frozenset((*range(32), 127))


@cache
def paper_fonts() -> Fonts:
    """Register the fonts once in this process."""
    from reportlab.pdfbase.pdfmetrics import registerFont
    from reportlab.pdfbase.ttfonts import TTFont

    signs = []
    for name, file in _FILES:
        font = TTFont(name, file)
        registerFont(font)
        signs.append(frozenset(font.face.charToGlyph) - _CONTROL)
    return Fonts(PLAIN, BOLD, frozenset.intersection(*signs))
