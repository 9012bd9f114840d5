#!/usr/bin/env python3
"""Writes fixtures/kernel-words.txt: the outlines of 36 words in six open fonts, one word a line.

Fonts (all under the SIL Open Font License 1.1 but the last, which is under the Bitstream Vera licence):
Lobster, Kaushan Script, Dancing Script (Debian packages fonts-lobster, fonts-kaushanscript, fonts-dancingscript),
Fredoka One, Amatic SC (PyPI packages font-fredoka-one, font-amatic-sc), DejaVu Sans (Debian fonts-dejavu-core).
Only outlines of set words are kept, no font data.  Usage: kernel_words.py FONT... > fixtures/kernel-words.txt
Needs fonttools.  y is up, millimetres, capital height about 20.
"""
import sys
from fontTools.pens.svgPathPen import SVGPathPen
from fontTools.pens.transformPen import TransformPen
from fontTools.ttLib import TTFont

WORDS = ["Harvest Fair", "Allotment", "Quince & Gage", "Bramble", "Marigold", "Jam Jug 8"]


def main():
    for path in sys.argv[1:]:
        font = TTFont(path)
        cmap, glyphs, upm = font.getBestCmap(), font.getGlyphSet(), font["head"].unitsPerEm
        scale = 28.0 / upm
        name = font["name"].getDebugName(1)
        for word in WORDS:
            pen = SVGPathPen(glyphs, ntos=lambda v: f"{v:.3f}".rstrip("0").rstrip("."))
            x = 0.0
            for ch in word:
                glyph = glyphs[cmap[ord(ch)]]
                glyph.draw(TransformPen(pen, (scale, 0, 0, scale, x * scale, 0)))
                x += glyph.width
            print(f"{name}: {word}\t{pen.getCommands()}")


main()
