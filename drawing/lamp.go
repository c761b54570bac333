package drawing

import "fmt"

// LampCircuit is a lamp on one pickup output.
type LampCircuit struct {
	Name     string   // of pickup and output
	Way      LampWay  // where resistor and diode go
	Supply   string   // what the supply wire carries
	Resistor []string // of the resistor, a line for each supply
	Lit      string   // what a lit lamp says
}

// LampWay is where the lamp of a circuit goes.
type LampWay uint8

// The ways: from the supply into an output that sinks, from an output that feeds to ground, or no lamp but a meter.
const (
	FromSupply LampWay = iota
	ToGround
	MeterAcross
)

// LampWiring shows how a lamp is wired to each output, one circuit below the other, or side by side where room is.
type LampWiring struct {
	Width    float64 // mm
	Circuits []LampCircuit
	Prefix   string
}

// Sizes of one circuit, mm.
const (
	lampWide, lampHigh = 80.0, 56.0
	lampRail, lampFoot = 11.0, 49.0
	lampColumn         = 37.0 // where resistor and diode stand
)

// Draw lays the drawing out.
func (l LampWiring) Draw() (*Drawing, error) {
	const where = "lamp wiring"
	if !(l.Width >= lampWide && l.Width <= 400) {
		return nil, fmt.Errorf("%s – a width of %g mm cannot be drawn – use %g to 400 mm", where, l.Width, lampWide)
	}
	n := len(l.Circuits)
	if n < 1 || n > 6 {
		return nil, fmt.Errorf("%s – %d circuits – give 1 to 6", where, n)
	}
	across := min(n, int(l.Width/lampWide))
	rows := (n + across - 1) / across
	desc := "How a lamp is wired to a pickup."
	for _, c := range l.Circuits {
		desc += " " + c.describe()
	}
	d := New(l.Width, float64(rows)*lampHigh, "Lamp on a pickup", desc)
	d.Prefix = l.Prefix
	room := l.Width / float64(across)
	for i, c := range l.Circuits {
		d.Group(Group{ID: fmt.Sprintf("circuit-%d", i+1), Class: "circuit", X: float64(i%across) * room,
			Y: float64(i/across) * lampHigh}, func() { c.draw(d) })
	}
	return d, nil
}

func (c LampCircuit) describe() string {
	switch c.Way {
	case FromSupply:
		return c.Name + ": resistor and lamp in series from the supply to the signal wire. " + c.Lit + "."
	case ToGround:
		return c.Name + ": resistor and lamp in series from the signal wire to ground. " + c.Lit + "."
	}
	return c.Name + ": a meter across the two signal wires, no lamp. " + c.Lit + "."
}

func (c LampCircuit) draw(d *Drawing) {
	d.Text(1, 5, d.fit(c.Name, lampWide-2, Body), Body.Heavy())
	if c.Way == MeterAcross {
		c.meter(d)
		return
	}
	const left, right = 4.0, 22.0 // of the pickup
	plus, signal, minus := 17.0, 38.0, 43.0
	if c.Way == ToGround {
		signal = 22
	}
	rail := Outline
	d.Line(left, lampRail, lampColumn+10, lampRail, rail)
	d.Text(lampColumn+12, lampRail, d.fit(c.Supply, lampWide-lampColumn-13, Note), Note.At(Start, Centred))
	d.Line(left, lampFoot, lampColumn+10, lampFoot, rail)
	d.Text(lampColumn+12, lampFoot, "ground", Note.At(Start, Centred))
	earth(d, left+5, lampFoot)
	d.Rect(left, lampRail+3, right-left, lampFoot-lampRail-6, Outline.Filled(Paper))
	d.Text(left+1.2, (lampRail+lampFoot)/2, "pickup", Note.At(Start, Centred))
	for _, pin := range []struct {
		y    float64
		name string
	}{{plus, "+"}, {signal, "signal"}, {minus, "−"}} {
		d.Text(right-1.2, pin.y, pin.name, Note.At(End, Centred))
	}
	supplied := right + 5
	d.Polyline([]Point{{right, plus}, {supplied, plus}, {supplied, lampRail}}, Outline)
	d.Polyline([]Point{{right, minus}, {supplied, minus}, {supplied, lampFoot}}, Outline)
	node(d, supplied, lampRail)
	node(d, supplied, lampFoot)
	from, to := lampRail, signal
	if c.Way == ToGround {
		from, to = signal, lampFoot
	}
	d.Line(right, signal, lampColumn, signal, Outline)
	node(d, lampColumn, c.end(from, to))
	// the chain: a third of the way is the resistor, a third the diode
	resistor, diode := from+2.5, from+16
	d.Line(lampColumn, from, lampColumn, resistor, Outline)
	d.Rect(lampColumn-2, resistor, 4, 10, Outline.Filled(Sheet))
	d.Line(lampColumn, resistor+10, lampColumn, diode, Outline)
	d.Polygon([]Point{{lampColumn - 3, diode}, {lampColumn + 3, diode}, {lampColumn, diode + 5}}, Outline.Filled(Sheet))
	d.Line(lampColumn-3, diode+5, lampColumn+3, diode+5, Heavy)
	for _, dy := range []float64{0, 2.4} { // the light that it gives
		d.Line(lampColumn-4, diode+1.4+dy, lampColumn-7.4, diode+3.6+dy, Fine)
		d.Arrow(Point{lampColumn - 7.8, diode + 3.9 + dy}, 237, Ink)
	}
	d.Line(lampColumn, diode+5, lampColumn, to, Outline)
	y := resistor + 5 - float64(len(c.Resistor)-1)*1.9
	for _, line := range c.Resistor {
		d.Text(lampColumn+4, y, d.fit(line, lampWide-lampColumn-5, Note), Note.At(Start, Centred))
		y += 3.8
	}
	d.Text(lampColumn+5, diode+2.5, d.fit(c.Lit, lampWide-lampColumn-6, Note), Note.At(Start, Centred))
}

// end is the end of the chain where it meets a rail.
func (c LampCircuit) end(from, to float64) float64 {
	if c.Way == FromSupply {
		return from
	}
	return to
}

// meter draws a pickup of two wires with a meter across them.
func (c LampCircuit) meter(d *Drawing) {
	const left, right, top, foot = 4.0, 22.0, 17.0, 43.0
	d.Rect(left, top-4, right-left, foot-top+8, Outline.Filled(Paper))
	d.Text((left+right)/2, (top+foot)/2, "pickup", Note.At(Middle, Centred))
	mid := (top + foot) / 2
	d.Polyline([]Point{{right, top}, {lampColumn, top}, {lampColumn, mid - 6}}, Outline)
	d.Polyline([]Point{{right, foot}, {lampColumn, foot}, {lampColumn, mid + 6}}, Outline)
	d.Circle(Point{lampColumn, mid}, 6, Outline.Filled(Sheet))
	d.Text(lampColumn, mid, "V AC", Note.At(Middle, Centred))
	y := mid - float64(len(c.Resistor))*1.9
	for _, line := range append([]string{c.Lit}, c.Resistor...) {
		d.Text(lampColumn+8, y, d.fit(line, lampWide-lampColumn-9, Note), Note.At(Start, Centred))
		y += 3.8
	}
}

// node is a dot where wires meet.
func node(d *Drawing, x, y float64) { d.Circle(Point{x, y}, 0.8, Area(Ink)) }

// earth is the sign of ground below a rail.
func earth(d *Drawing, x, y float64) {
	d.Line(x, y, x, y+2, Outline)
	for i, half := range []float64{3, 2, 1} {
		at := y + 2 + 1.1*float64(i)
		d.Line(x-half, at, x+half, at, Outline)
	}
}
