package drawing

// Paint is what a line or area is drawn with. The page's style sheet decides the
// colour of each, by day and by night; a PDF uses the day colours.
type Paint uint8

// The paints. Spark is kept for the spark and nothing else.
const (
	None  Paint = iota // not drawn
	Ink                // lines and words that matter
	Soft               // secondary words and lines
	Hair               // grids and rules
	Spark              // vermilion: the spark alone
	Sheet              // the sheet itself: knocks out what lies below
	Paper              // a body, slightly darker than the sheet
	Wash               // a quiet area
	Tint               // a band: ink at one tenth
	paintCount
)

// paint is the class of a stroke, the class of a fill and the day colour.
type paint struct {
	stroke, fill, day string
	rgb               [3]float64
}

// paints holds the day colours of the house look. On paper the sheet is white.
var paints = [paintCount]paint{
	None:  {"", "", "none", [3]float64{}},
	Ink:   {"ink", "fill", "#17242c", [3]float64{0x17, 0x24, 0x2c}},
	Soft:  {"soft", "fill-soft", "#5b6970", [3]float64{0x5b, 0x69, 0x70}},
	Hair:  {"hair", "fill-hair", "#b9bdb4", [3]float64{0xb9, 0xbd, 0xb4}},
	Spark: {"spark", "fill-spark", "#cf3a16", [3]float64{0xcf, 0x3a, 0x16}},
	Sheet: {"sheet", "fill-sheet", "#fbf8ef", [3]float64{0xff, 0xff, 0xff}},
	Paper: {"paper", "fill-paper", "#f5f0e3", [3]float64{0xf7, 0xf3, 0xe8}},
	Wash:  {"wash", "fill-wash", "#e6e1d0", [3]float64{0xeb, 0xe7, 0xda}},
	Tint:  {"tint", "fill-tint", "#e4e3dc", [3]float64{0xe7, 0xe8, 0xe9}},
}

// Dash names a line pattern.
type Dash uint8

// The patterns.
const (
	Solid  Dash = iota
	Dotted      // tolerance zones
	Dashed      // outside validity
	Short       // rings round excluded points
	Centre      // centre lines
	dashCount
)

// dashes holds on and off lengths in mm.
var dashes = [dashCount][]float64{
	Dotted: {0.3, 0.8},
	Dashed: {1.8, 1.1},
	Short:  {0.6, 0.6},
	Centre: {3.6, 0.8, 0.8, 0.8},
}

// Cap is the shape of a line's ends.
type Cap uint8

// The line ends.
const (
	Butt Cap = iota
	RoundCap
)

// Style says how a path is drawn. The zero value draws nothing.
type Style struct {
	Stroke Paint
	Width  float64 // of the stroke, mm
	Fill   Paint
	Dash   Dash
	Cap    Cap
}

// Filled returns s with its area filled by p.
func (s Style) Filled(p Paint) Style { s.Fill = p; return s }

// Dashed returns s with the line pattern d.
func (s Style) Dashed(d Dash) Style { s.Dash = d; return s }

// Wide returns s with a stroke of w mm.
func (s Style) Wide(w float64) Style { s.Width = w; return s }

// Area fills with p and draws no outline.
func Area(p Paint) Style { return Style{Fill: p} }

// The pens of the house: line weights in mm.
var (
	Outline   = Style{Stroke: Ink, Width: 0.4}
	Heavy     = Style{Stroke: Ink, Width: 0.6}
	Fine      = Style{Stroke: Ink, Width: 0.18}
	Dimension = Style{Stroke: Ink, Width: 0.2}
	Grid      = Style{Stroke: Hair, Width: 0.15}
	Quiet     = Style{Stroke: Soft, Width: 0.18}
	CentreLn  = Style{Stroke: Soft, Width: 0.15, Dash: Centre}
	Tolerance = Style{Stroke: Soft, Width: 0.25, Dash: Dotted}
	SparkLine = Style{Stroke: Spark, Width: 0.6}
)
