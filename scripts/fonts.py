"""Subsets of B612 for the pages, of other faces for papers; run by scripts/fonts. Prints the unicode-range of each file for tokens.css."""
import io
import os
import subprocess

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
    unpacked = subprocess.run(["zstd", "-dc", f"drawing/fonts/B612-{weight}.ttf.zst"], check=True, capture_output=True).stdout
    for wanted, kind in ((OFTEN, ""), (SELDOM, "-more")):
        save(TTFont(io.BytesIO(unpacked)), wanted, f"b612-{weight.lower()}{kind}.woff2")
save(TTFont(DEBIAN + "B612Mono-Regular.otf"), MONO, "b612-mono.woff2")


# Letters of names on paper. drawing/font.go asks each face only for its own range.
PAPER = "drawing/fonts/"
NOTO = "/usr/share/fonts/truetype/noto/"
DROID = "/usr/share/fonts/truetype/droid/DroidSansFallbackFull.ttf"
JOINING = ["init", "medi", "fina", "isol", "rlig", "ccmp", "mark", "mkmk"]  # what joins and places letters and marks


def span(first, last):
    return set(range(first, last + 1))


def in_charset(encoding, heads, tails):
    """The characters that a double-byte character set holds."""
    out = set()
    for head in heads:
        for tail in tails:
            try:
                out.add(ord(bytes([head, tail]).decode(encoding)))
            except (UnicodeDecodeError, TypeError):
                pass
    return out


def for_paper(source, wanted, features, name):
    font = TTFont(source, recalcTimestamp=False)
    options = subset.Options()
    options.hinting, options.glyph_names, options.notdef_outline = False, False, True
    options.layout_features, options.name_IDs = features, [0, 1, 2, 6, 13, 14]
    options.drop_tables += ["gasp"]
    cut = subset.Subsetter(options)
    cut.populate(unicodes=set(font.getBestCmap()) & wanted)
    cut.subset(font)
    font.save(PAPER + name)
    subprocess.run(["zstd", "--quiet", "--force", "--ultra", "-22", "--rm", PAPER + name], check=True)
    print(f"{name + '.zst':28} {len(font.getBestCmap()):5} signs {os.path.getsize(PAPER + name + '.zst'):6} bytes")


# GB 2312 and JIS X 0208 with both their levels, Big5 with its first; kana, CJK signs, full-width forms.
tails = range(0xA1, 0xFF)
HAN = (in_charset("gb2312", range(0xB0, 0xF8), tails) | in_charset("euc_jp", range(0xB0, 0xF5), tails) |
       in_charset("big5", range(0xA4, 0xC7), [*range(0x40, 0x7F), *tails]) |
       span(0x3000, 0x30FF) | span(0xFF00, 0xFFEF))
WIDE = (span(0x20, 0x7E) | span(0xA0, 0x52F) | span(0x1E00, 0x206F) | span(0x20A0, 0x20BF) | span(0x2100, 0x218F))
for weight in ("Regular", "Bold"):
    for_paper(f"{NOTO}NotoSans-{weight}.ttf", WIDE, ["ccmp", "mark", "mkmk"], f"NotoSans-{weight}.ttf")
    for_paper(f"{NOTO}NotoSansArabic-{weight}.ttf", span(0x600, 0x6FF) | {0x200C, 0x200D}, JOINING,
              f"NotoSansArabic-{weight}.ttf")
    for_paper(f"{NOTO}NotoSansHebrew-{weight}.ttf", span(0x590, 0x5FF), JOINING, f"NotoSansHebrew-{weight}.ttf")
for_paper(f"{NOTO}NotoSansMath-Regular.ttf", span(0x2190, 0x22FF), [], "NotoSansMath-Regular.ttf")
for_paper(f"{NOTO}NotoSansSymbols2-Regular.ttf", span(0x2500, 0x26FF), [], "NotoSansSymbols2-Regular.ttf")
for_paper(DROID, HAN, [], "DroidSansFallback-Regular.ttf")
