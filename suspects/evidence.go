package suspects

// Evidence is everything that was seen of one engine. All of it is optional: a nil number and an empty word mean "not
// looked at". Fields (table.go) documents each key.
type Evidence struct {
	WorkedOn []string
	Light    []Light
	Lamps    []Lamp
	// shaft degrees, against the rotor positive, until the active edge came with the crank at the lead's mark
	HousingTurn *Number
	Clamp       string
	Travel      string
	Rotor       Rotor
	Compression string
	PistonStop  PistonStop
	Engine      Behaviour
	Battery     Battery
	Settings    Settings
	Dial        *Number // of the timing light, degrees
	Cap         Cap
	Spark       string
	Capture     Capture
	Seen        *Seen // what else was looked at; nil: nothing
	Cylinders   []Cylinder
	Notes       string // not weighed
}

// Seen is what was said and measured of looks that are rows of the table of observations, by their key.
type Seen struct {
	Said     map[string]string
	Several  map[string][]string // of looks that take several words; empty and there: none of them
	Measured map[string]Number   // base units
}

func newSeen() Seen {
	return Seen{map[string]string{}, map[string][]string{}, map[string]Number{}}
}

func (ev *Evidence) seen() *Seen {
	if ev.Seen == nil {
		s := newSeen()
		ev.Seen = &s
	}
	return ev.Seen
}

// Cylinder is what was seen of one.
type Cylinder struct {
	Cylinder int
	Seen
}

// Number is a measured value in base units with its standard uncertainty; U is 0 where none was given and the usual one
// is taken.
type Number struct{ Value, U float64 }

// Light is one look with the timing light.
type Light struct {
	Speed     float64 // rpm
	Wire      int     // by cylinder; 0: wire 1
	Shown     *Number // degrees BTDC
	Locked    *Number // commanded; nil: the card's
	Allowance *Number // µs, believed in force; nil: the card's
	Flashes   string
	After     float64 // µs since the first reading
	Tacho     *Number // rpm on the light's own tachometer
	Which     string  // "other": a second light, known to be sound
	Engine    string  // cold, hot, under load; "": not said
	// it flashes, and no mark is to be seen
	OutOfSight bool
}

// Lamp is a test lamp or logic state with the crank at rest.
type Lamp struct {
	At         *Number // degrees BTDC of cylinder 1 by the damper's mark; nil: the trigger lead
	Crank, Cam string
}

// Rotor is how it stands with the crank at the trigger lead's mark on cylinder 1's compression stroke.
type Rotor struct {
	PointsTo string  // cylinder whose wire hangs on the tower, or "between"
	Off      *Number // tip ahead of where it should stand, shaft degrees, in rotor direction positive
	Play     *Number // shaft degrees, flank to flank
}

// PistonStop holds the damper's readings at the two contacts.
type PistonStop struct{ Before, After *Number }

// Behaviour is how the engine goes.
type Behaviour struct {
	Starting, Running string
	Misfire           []int // cylinders; NoMisfire: none of them
	NoMisfire         bool
}

// Battery holds voltages.
type Battery struct{ Rest, Cranking, Running, CrankPickup, CamPickup *Number }

// Settings are what the controller's screen shows, read back.
type Settings struct {
	Allowance, Lead, Dwell *Number // µs, degrees, µs
	Edge, Lock             string
}

// Cap is what an open cap and its wires show.
type Cap struct{ Traces, Wires string }

// Capture holds what a recording showed (FromCapture fills it).
type Capture struct {
	Edges         *Number // active crank edges in a cycle
	Extra         *Number // extra crank edges a firing, share
	ExtraAt       string
	Scatter       *Number // of single edges, degrees
	Swing         *Number // edges' once-a-shaft-turn swing, amplitude, degrees
	Vane          string
	Sync          string
	Offset, Delay *Number // through a mark channel
	Dwell         *Number // µs
	WrongEdge     string
	LeadsSwapped  string
	Polarity      string
}
