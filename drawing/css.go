package drawing

// CSS is the style sheet that drawings in a page need: each class takes its colour
// from the page's tokens, so day and night are the page's choice. Serve it as a file.
const CSS = `.drawing{display:block;width:100%;height:auto;overflow:visible}
.drawing text{font-family:B612,Go,"DejaVu Sans",sans-serif;font-kerning:none;font-variant-ligatures:none;font-variant-numeric:tabular-nums;white-space:pre}
.drawing .ink{stroke:var(--ink)}.drawing .soft{stroke:var(--soft)}.drawing .hair{stroke:var(--hair)}.drawing .spark{stroke:var(--spark)}
.drawing .sheet{stroke:var(--sheet)}.drawing .paper{stroke:var(--paper)}.drawing .wash{stroke:var(--wash)}
.drawing .fill{fill:var(--ink)}.drawing .fill-soft{fill:var(--soft)}.drawing .fill-hair{fill:var(--hair)}.drawing .fill-spark{fill:var(--spark)}
.drawing .fill-sheet{fill:var(--sheet)}.drawing .fill-paper{fill:var(--paper)}.drawing .fill-wash{fill:var(--wash)}.drawing .fill-tint{fill:var(--tint)}
`

// Tokens are the day and night colours of the house look, for files that stand alone.
const Tokens = `:root{--paper:#f5f0e3;--sheet:#fbf8ef;--ink:#17242c;--soft:#5b6970;--hair:#b9bdb4;--wash:#e6e1d0;--tint:#e4e3dc;--spark:#cf3a16}
.night{--paper:#0e1519;--sheet:#121c21;--ink:#e9e2cf;--soft:#9aa69f;--hair:#3a484e;--wash:#1c282e;--tint:#27302f;--spark:#ff6a3d}
@media print{:root{--sheet:#fff}}
`
