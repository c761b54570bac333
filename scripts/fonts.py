"""Subsets of B612 for the pages; run by scripts/fonts. Prints the unicode-range of each file for tokens.css."""
import os

from fontTools import subset
from fontTools.ttLib import TTFont

DEBIAN = "/usr/share/fonts/opentype/b612/"
SERVED = "web/static/"
# What pages say in English with numbers: ASCII, and the signs of our own words.
OFTEN = set(range(0x20, 0x7F)) | set(map(ord, "\u00a0«°±²³µ·»¼½¾×÷\u2009\u202fΩλμτ–—‘’“”…←↑→↓−√≤≥"))
# Names and notes: Latin letters, Greek, the rest of the punctuation.
SELDOM = (set(range(0xA0, 0x180)) | set(range(0x391, 0x3CA)) | set(range(0x2010, 0x2040)) |
          set(map(ord, "\u2007\u200a€™∂∞≈≠"))) - OFTEN
# Codes, cards as text and fingerprints are set in the mono face, on few pages: one file.
MONO = OFTEN | set(range(0xA0, 0x100))


def save(font, wanted, name):
    have = set(font.getBestCmap()) & wanted
    options = subset.Options()
    options.flavor, options.hinting, options.desubroutinize = "woff2", False, True
    options.layout_features, options.name_IDs = ["kern"], [0, 1, 2, 13, 14]
    cut = subset.Subsetter(options)
    cut.populate(unicodes=have)
    cut.subset(font)
    font.flavor = "woff2"
    font.save(SERVED + name)
    print(f"{name:28} {len(have):4} signs {os.path.getsize(SERVED + name):6} bytes  {ranges(have)}")


def ranges(signs):
    out, last = [], None
    for sign in sorted(signs):
        if last is not None and sign == last + 1:
            out[-1][1] = sign
        else:
            out.append([sign, sign])
        last = sign
    return ",".join(f"U+{a:X}" + (f"-{b:X}" if b > a else "") for a, b in out)


# The outlines are those of the pages' drawings and papers (drawing/fonts), spaces included.
for weight in ("Regular", "Bold"):
    for wanted, kind in ((OFTEN, ""), (SELDOM, "-more")):
        save(TTFont(f"drawing/fonts/B612-{weight}.ttf"), wanted, f"b612-{weight.lower()}{kind}.woff2")
save(TTFont(DEBIAN + "B612Mono-Regular.otf"), MONO, "b612-mono.woff2")
