package drawing

import (
	"fmt"
	"math"
)

// FrontSide says where the front of the engine lies for someone who looks at the
// pointer from outside, square on to the rim.
type FrontSide uint8

// The sides.
const (
	FrontBelow FrontSide = iota // you stand in front of the engine and lean over it
	FrontLeft                   // you stand beside it, front at your left hand
	FrontAbove                  // you stand behind the pulley end
	FrontRight                  // you stand beside it, front at your right hand
)

func (f FrontSide) words() string {
	return [...]string{"below, nearest to you", "at your left hand", "above, farthest from you",
		"at your right hand"}[min(f, FrontRight)]
}

// turn of the numbers against a strip that lies with its front edge down.
func (f FrontSide) turn() float64 { return [...]float64{0, -90, 180, 90}[min(f, FrontRight)] }

// PointerEdge says which edge of the rim the pointer reaches over: the ticks stand there.
type PointerEdge uint8

// The edges.
const (
	RearEdge PointerEdge = iota // the usual pointer, fixed to the timing cover behind the rim
	FrontEdge
)

// TapeFace says what is printed on a strip.
type TapeFace uint8

// The faces.
const (
	DegreeScale TapeFace = iota
	MarksOnly            // a strip for carrying marks onto the rim with a scriber
)

// SheetSize is a sheet of paper, used in landscape.
type SheetSize uint8

// The sheets.
const (
	A4 SheetSize = iota
	Letter
)

// landscape returns width and height in mm (ISO 216; ANSI/ASME Y14.1 size A).
func (s SheetSize) landscape() (w, h float64) {
	if s == Letter {
		return 279.4, 215.9
	}
	return 297, 210
}

// TapeMark is an angle that the tape points out, degrees before the zero mark.
type TapeMark struct {
	Before float64
	Label  string
}

// Tape is a strip of degrees, true to scale, for sticking on a damper or flywheel rim.
//
// Which way the numbers run. Lay the strip flat, words outward, with the edge that
// goes to the front of the engine at the bottom. Someone who leans over the engine
// from the front sees the rim like this, and sees the top of a clockwise engine's
// rim move to the right. An angle before TDC lies ahead of the zero mark in the
// direction of rotation, because it must reach the pointer first: to the right on a
// clockwise engine, to the left on a counterclockwise one. Walking round the rim
// does not change that; looking with the front edge up turns the whole picture by
// half a turn, strip and motion together.
//
// Lengths: φ degrees before the zero mark lie π·(D + t)·φ/360 from it, D the
// diameter of the rim and t the thickness of the tape, because the middle of a bent
// tape keeps its length.
type Tape struct {
	Name      string  // the engine, printed on every sheet
	Diameter  float64 // mm; for a pointer at a radius, twice that
	Surface   string  // what the strip goes round; empty: "damper rim"
	Turn      Turn    // of the crank, seen from the front
	From, To  float64 // degrees before the zero mark, negative after it; From < To
	Marks     []TapeMark
	Thickness float64 // of the tape, mm
	Front     FrontSide
	Pointer   PointerEdge
	Face      TapeFace
	Height    float64 // width of the strip, mm; 0: 24
	Sheet     SheetSize
	// Measured is what the 100.0 mm check line measured on an earlier print, mm; 0: not
	// measured. Everything along the strip is then stretched to make up for the printer.
	Measured float64
	Foot     []Cell // more fields for the title block
	Identity []Cell // of its last row, before the page
	Lengths  Lengths
}

// Lengths is how lengths are printed for the people who measure them. The zero value prints millimetres.
type Lengths struct {
	// Print prints a length of so many mm, with decimals of a millimetre.
	Print func(mm float64, decimals int) string
	Rules Rules
}

// Rules is what the people of a shop measure with.
type Rules uint8

// The rules: an inch shop gets a line of four inches to measure beside the one of 100 mm.
const (
	MetricRules Rules = iota
	InchRules
)

func (l Lengths) of(mm float64, decimals int) string {
	if l.Print == nil {
		return Number(mm, decimals) + " mm"
	}
	return l.Print(mm, decimals)
}

const (
	tapeHeight    = 24.0
	uprightHeight = 30.0 // where figures stand on end and the names have no room else
	minStrip      = 18.0
	endMargin     = 6.0 // blank before the first and after the last tick, at least
	glueTab       = 9.0
	checkLength   = 100.0
	checkInches   = 4 * 25.4 // mm; the inch is 25.4 mm exactly (international agreement of 1959)
	maxPages      = 30
)

// normal checks the tape and fills in what was left out.
func (t Tape) normal() (Tape, error) {
	const where = "timing tape"
	if err := t.Turn.usable(where); err != nil {
		return t, err
	}
	if t.Surface == "" {
		t.Surface = "damper rim"
	}
	if t.Height == 0 {
		t.Height = tapeHeight
		if math.Mod(t.Front.turn(), 180) != 0 && finite(t.Diameter, t.From, t.To) && !t.namesFit() {
			t.Height = uprightHeight
		}
	}
	switch {
	case !finite(t.Diameter) || t.Diameter < 30:
		return t, fmt.Errorf("%s – a diameter of %g mm leaves no room for a scale – give the "+
			"rim's diameter, 30 mm or more", where, t.Diameter)
	case t.Diameter > 6000:
		return t, fmt.Errorf("%s – a diameter of %g mm – give the rim's diameter in mm, 6000 or less", where,
			t.Diameter)
	case !finite(t.From, t.To) || t.To <= t.From:
		return t, fmt.Errorf("%s – the range %g° to %g° is empty – give from below to, in degrees before the zero mark",
			where, t.From, t.To)
	case t.To-t.From > 360+1e-9:
		return t, fmt.Errorf("%s – the range %g° to %g° is more than a whole turn – give at most 360 degrees", where,
			t.From, t.To)
	case math.Abs(t.From) > 360 || math.Abs(t.To) > 360:
		return t, fmt.Errorf("%s – the range %g° to %g° leaves the rim – stay within −360 to 360 degrees", where,
			t.From, t.To)
	case !(t.Thickness >= 0 && t.Thickness <= 3):
		return t, fmt.Errorf("%s – a tape %g mm thick – give 0 to 3 mm", where, t.Thickness)
	case !(t.Height >= minStrip && t.Height <= 60):
		return t, fmt.Errorf("%s – a strip %g mm wide – give %g to 60 mm", where, t.Height, minStrip)
	case t.Measured != 0 && !(t.Measured >= 90 && t.Measured <= 110):
		return t, fmt.Errorf("%s – a check line of %g mm – switch off the printer's own scaling and measure again; "+
			"90 to 110 mm can be made up for", where, t.Measured)
	}
	for _, m := range t.Marks {
		if !(m.Before >= t.From-1e-9 && m.Before <= t.To+1e-9) {
			return t, fmt.Errorf("%s – the mark %q at %g° is outside %g° to %g° – widen the range", where,
				Fit(m.Label, 60, Note), m.Before, t.From, t.To)
		}
	}
	if len(t.Marks) > 40 {
		return t, fmt.Errorf("%s – %d marks stand in each other's way – give at most 40", where, len(t.Marks))
	}
	return t, nil
}

// stretch is the factor that makes up for the printer.
func (t Tape) stretch() float64 {
	if t.Measured == 0 {
		return 1
	}
	return checkLength / t.Measured
}

// Distance returns how far along the rim φ degrees before the zero mark lie, in mm:
// π·(D + t)·φ/360.
func (t Tape) Distance(before float64) float64 {
	return math.Pi * (t.Diameter + t.Thickness) * before / 360
}

// along returns the place of an angle on the paper, mm to the right of the zero
// line, with the front edge at the bottom.
func (t Tape) along(before float64) float64 {
	return float64(t.Turn) * t.Distance(before) * t.stretch()
}

// steps returns the degrees between ticks and between numbers: ticks at least 0.7 mm
// apart, numbers as far as the widest of them needs.
func (t Tape) steps() (tick, number float64) {
	one := t.Distance(1)
	room := 6.0 // figures that stand on end
	if math.Mod(t.Front.turn(), 180) == 0 {
		widest := math.Max(Width(Number(math.Trunc(t.From), 0), tapeFigures),
			Width(Number(math.Trunc(t.To), 0), tapeFigures))
		room = widest + 3
	}
	tick, number = 30, 90
	for _, s := range []float64{30, 15, 10, 5, 2, 1} {
		if one*s >= 0.7 {
			tick = s
		}
	}
	for _, s := range []float64{90, 45, 30, 15, 10, 5, 2, 1} {
		if one*s >= room && math.Mod(s, tick) == 0 {
			number = s
		}
	}
	return tick, number
}

// tapeFigures is how degrees are set on the strip.
var tapeFigures = TextStyle{Size: 3.2, Weight: Bold, Ground: Sheet}

// piece is a part of the strip that fits a sheet, from and to in mm along the paper.
type piece struct {
	from, to    float64
	first, last bool
}

// pieces cuts the strip into parts no longer than room, between numbers.
func (t Tape) pieces(room float64) []piece {
	lo, hi := t.along(t.From), t.along(t.To)
	if lo > hi {
		lo, hi = hi, lo
	}
	before, after := t.endMargins()
	lo, hi = lo-before, hi+after
	tail := 0.0
	if t.whole() {
		tail = glueTab
	}
	var out []piece
	_, number := t.steps()
	step := t.Distance(number) * t.stretch()
	if t.Face == MarksOnly {
		step = 1
	}
	at := lo
	for {
		p := piece{from: at, first: len(out) == 0}
		if hi+tail-at <= room {
			p.to, p.last = hi, true
			return append(out, p)
		}
		// The last place half way between two numbers that still fits with its tab.
		cut := (math.Floor((at+room-glueTab)/step-0.5) + 0.5) * step
		if t.Face == MarksOnly || cut <= at+step/4 {
			cut = at + room - glueTab
		}
		p.to = cut
		out = append(out, p)
		at = cut
	}
}

// endMargins are the blanks at the ends, mm: wider where a name of a mark would have no room else.
func (t Tape) endMargins() (before, after float64) {
	lo, hi := t.along(t.From), t.along(t.To)
	if lo > hi {
		lo, hi = hi, lo
	}
	if t.whole() { // the ends meet
		return 0, 0
	}
	for more := 0.0; more <= longestFlag; more += 7 {
		for _, add := range [][2]float64{{0, more}, {more, 0}, {more, more}} {
			before, after = endMargin+add[0], endMargin+add[1]
			p := piece{from: lo - before, to: hi + after}
			if t.flagsFit(p) {
				return before, after
			}
		}
	}
	return endMargin, endMargin
}

// flagsFit says whether all names of a piece have room.
func (t Tape) flagsFit(p piece) bool {
	all := t.ownFlags(p)
	for _, size := range flagSizes {
		if _, ok := t.tryFlags(all, p.from+0.6, p.to-0.6, size); ok {
			return true
		}
	}
	return false
}

// namesFit says whether the names have room on a tape in one piece.
func (t Tape) namesFit() bool { return t.flagsFit(t.pieces(math.Inf(1))[0]) }

// whole reports a tape that goes all the way round, and so meets itself.
func (t Tape) whole() bool { return t.To-t.From > 360-1e-6 }
