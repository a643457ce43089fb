"""Makes the fonts of this folder. Usage: python3 make.py FULL_FONTS_FOLDER OUT_FOLDER

FULL_FONTS_FOLDER holds the static TrueType fonts of Source Sans 3 (version 3.052) and Source
Serif 4 (version 4.004). Needs fontTools and its brotli. See README.md.
"""
import os
import sys

from fontTools import subset
from fontTools.ttLib import TTFont

FONTS = {
    "bookend-sans-400": ("SourceSans3_400Regular.ttf", "Bookend Sans", "Regular"),
    "bookend-sans-400-italic": ("SourceSans3_400Regular_Italic.ttf", "Bookend Sans", "Italic"),
    "bookend-sans-600": ("SourceSans3_600SemiBold.ttf", "Bookend Sans", "SemiBold"),
    "bookend-serif-600": ("SourceSerif4_600SemiBold.ttf", "Bookend Serif", "SemiBold"),
}
# Latin with its first extension, Greek, Cyrillic, punctuation, superscripts, arrows, mathematics.
RANGES = [(0x20, 0x7E), (0xA0, 0x17F), (0x218, 0x21B), (0x384, 0x3CE), (0x401, 0x45F), (0x490, 0x491),
          (0x2010, 0x2014), (0x2018, 0x201E), (0x2020, 0x2022), (0x2039, 0x203A), (0x2070, 0x2070),
          (0x2074, 0x2079), (0x2080, 0x2084), (0x2190, 0x2193)]
SINGLE = [0x1E9E, 0x2009, 0x200A, 0x2026, 0x202F, 0x2030, 0x2032, 0x2033, 0x2044, 0x20AC, 0x2122, 0x2126,
          0x2202, 0x2206, 0x2211, 0x2212, 0x221A, 0x221E, 0x2248, 0x2260, 0x2264, 0x2265]

full, out = sys.argv[1:3]
for name, (file, family, style) in FONTS.items():
    f = TTFont(os.path.join(full, file), recalcTimestamp=False)
    o = subset.Options()
    # Only what x/image/font/sfnt measures may shape a text, so that width as measured is width as seen.
    o.layout_features, o.layout_scripts = ["kern"], ["*"]
    o.hinting, o.glyph_names, o.notdef_outline = False, False, True
    o.name_IDs, o.name_languages = [0, 5, 13, 14], ["*"]
    s = subset.Subsetter(o)
    s.populate(unicodes=[u for a, b in RANGES for u in range(a, b + 1)] + SINGLE)
    s.subset(f)
    for tag in ("STAT", "DSIG", "meta", "GSUB"):
        if tag in f:
            del f[tag]
    names = f["name"]
    linked = style in ("Regular", "Italic")
    for i, value in ((1, family if linked else f"{family} {style}"), (2, style if linked else "Regular"), (3, name),
                     (4, f"{family} {style}"), (6, f"{family}-{style}".replace(" ", "")), (16, family), (17, style)):
        names.setName(value, i, 3, 1, 0x409)
    f.save(os.path.join(out, name + ".ttf"))
    f = TTFont(os.path.join(out, name + ".ttf"), recalcTimestamp=False)
    f.flavor = "woff2"
    f.save(os.path.join(out, name + ".woff2"))
