package shaft

import (
	"phasewright/readings"
	"phasewright/shaft/terms"
	"phasewright/shaft/timing"
	"phasewright/shaft/track"
)

// Number is a figure that may be unknown: JSON writes NaN and infinity as null.
type Number = readings.Number

// Sync says whether the shaft's place on its 720° cycle was known.
type Sync string

// The states of sync.
const (
	SyncHeld Sync = "held" // from the first cam edge to the end, except while the shaft stood still
	SyncLost Sync = "lost" // at least once; Losses says when
	SyncNone Sync = "none" // never gained
)

// Kind is a kind of anomaly.
type Kind = track.Kind

// The kinds.
const (
	MissingPulse = track.MissingPulse
	ExtraPulse   = track.ExtraPulse
	ShortPulse   = track.ShortPulse
	Dropout      = track.Dropout
)

// Anomaly is one thing wrong with a signal.
type Anomaly struct {
	Kind    Kind    `json:"kind"`
	TimeS   float64 `json:"time_s"`
	Channel string  `json:"channel"`
}

// Loss is a stretch without sync.
type Loss struct {
	TimeS     float64 `json:"time_s"`
	RegainedS Number  `json:"regained_s"` // null: not regained
	Because   string  `json:"because"`
}

// Identifiers of findings.
const (
	FoundNoCrank      = terms.FoundNoCrank
	FoundNoSpark      = terms.FoundNoSpark
	FoundNoMark       = terms.FoundNoMark
	FoundNoChannel    = terms.FoundNoChannel
	FoundNoEdges      = terms.FoundNoEdges
	FoundSwapped      = terms.FoundSwapped
	FoundPolarity     = terms.FoundPolarity
	FoundWrongEdge    = terms.FoundWrongEdge
	FoundVaneCount    = terms.FoundVaneCount
	FoundNotLocked    = terms.FoundNotLocked
	FoundCamMargin    = terms.FoundCamMargin
	FoundCamPlace     = terms.FoundCamPlace
	FoundSparksEnd    = terms.FoundSparksEnd
	FoundSparkSpread  = terms.FoundSparkSpread
	FoundSameChannels = terms.FoundSameChannels
	FoundVaneBent     = terms.FoundVaneBent
	FoundWobble       = terms.FoundWobble
	FoundDwell        = terms.FoundDwell
	FoundVaneWidth    = terms.FoundVaneWidth
)

// Channel is one channel with its role and levels.
type Channel struct {
	Name   string `json:"name"`
	Role   Role   `json:"role"`
	Edges  int64  `json:"edges"`
	LowV   Number `json:"low_v"`  // null: logic
	HighV  Number `json:"high_v"` // null: logic
	NoiseV Number `json:"noise_v"`
	Reason string `json:"reason"` // why this role
}

// Speeds is the range of crank speed while the shaft turned, rpm. Mean is over time.
type Speeds struct {
	Min  float64 `json:"min"`
	Mean float64 `json:"mean"`
	Max  float64 `json:"max"`
}

// Spread is a mean with its standard deviation.
type Spread struct {
	Mean float64 `json:"mean"`
	SD   float64 `json:"sd"`
}

// CrankResult is what the crank pickup showed.
type CrankResult struct {
	EdgesPerCycle int    `json:"edges_per_cycle"` // active edges in 720°
	VaneWidthDeg  Number `json:"vane_width_deg"`  // shaft degrees, mean of the vanes, as on the job card
	// SpacingErrorDeg is how far each active edge stands from its nominal place, less the median of all: crank degrees,
	// late positive, cylinder 1's edge first.
	SpacingErrorDeg []float64 `json:"spacing_error_deg"`
	SpacingU        []Number  `json:"spacing_error_u_deg"` // standard uncertainty by scatter
	IntervalsDeg    []float64 `json:"intervals_deg"`       // nominal, from each edge to the next
	VaneWidthsDeg   []Number  `json:"vane_widths_deg"`     // shaft degrees of each vane
	ScatterDeg      Number    `json:"scatter_deg"`         // sd of single active edges about smooth motion, running
	ActiveEdge      string    `json:"active_edge"`         // rising or falling
	ActiveBecause   string    `json:"active_because"`
	ActsOn          string    `json:"acts_on,omitempty"` // "as stated" or "the other edge", where the sparks show it
	Uneven          bool      `json:"uneven"`            // firing intervals differ: odd-fire
}

// CamEdge is one edge of the cam pickup among the edges of the crank pickup.
type CamEdge struct {
	Edge       string  `json:"edge"`             // rising or falling
	AtDeg      float64 `json:"at_deg"`           // crank degrees after cylinder 1's active crank edge, 0 ≤ at < 720
	SD         float64 `json:"sd_deg"`           // scatter of that
	MarginDeg  float64 `json:"margin_deg"`       // least distance from an active crank edge
	AfterEdge  float64 `json:"after_edge_deg"`   // how far it stands after the last active crank edge, mean
	BeforeEdge float64 `json:"before_edge_deg"`  // how far it stands before the next active crank edge, mean
	OtherDeg   float64 `json:"other_margin_deg"` // least distance from one of the crank pickup's other edges
}

// CamResult is what the cam pickup showed.
type CamResult struct {
	WindowDeg float64   `json:"window_deg"` // crank degrees of the shorter state
	Edges     []CamEdge `json:"edges"`
	// SafeEdge is the cam edge that keeps farther from active crank edges, SafeMarginDeg its least distance from one.
	SafeEdge      string  `json:"safe_edge"`
	SafeMarginDeg float64 `json:"safe_margin_deg"`
	// ReadAt is the kind of crank edge at which the cam's level is safest to read; "" where neither kind has exactly
	// one edge inside the window. LevelMarginDeg is the least distance of such crank edges from either end of the
	// window.
	ReadAt         string `json:"read_at"`
	LevelMarginDeg Number `json:"level_margin_deg"`
}

// CylinderResult is one cylinder's firing.
type CylinderResult struct {
	Cylinder  int    `json:"cylinder"` // from the firing order, else its place in it
	Count     int64  `json:"count"`
	AfterEdge Spread `json:"after_edge_deg"`
	Advance   Number `json:"advance_deg"` // mean, where a mark gives it; what acceleration adds is taken out
	Error     Number `json:"error_deg"`   // mean advance less commanded
	// ScatterSD is the standard deviation on the shaft at running speed, against edges other than the firing's own: a
	// worn drive shows here. null where there are too few firings.
	ScatterSD Number `json:"scatter_deg"`
	// TimedSD is the same in the controller's own terms, from the active edge: what the controller itself adds.
	TimedSD Number `json:"timed_deg"`
	// Scatter counts firings by their distance on the shaft from the running mean of all, in bins of 0.1° from −4°
	// (late) to +4°; the outer ones hold all beyond. It contains the scatter of the edges that it is measured against,
	// which is taken out of ScatterSD.
	Scatter []int64 `json:"scatter"`
}

// SparkResult is what the spark channels showed.
type SparkResult struct {
	Count      int64            `json:"count"`
	DwellMS    Number           `json:"dwell_ms"`                 // mean as driven; null where the pulse is a clamp's
	AtLeast    bool             `json:"dwell_at_least,omitempty"` // a current clamp: the dwell is longer than its pulse
	DwellMin   Number           `json:"dwell_min_ms"`
	DwellMax   Number           `json:"dwell_max_ms"`
	DwellSD    Number           `json:"dwell_sd_ms"`
	AfterEdge  Spread           `json:"after_edge_deg"`
	ByCylinder []CylinderResult `json:"by_cylinder"`
	SparkAt    string           `json:"spark_at"`    // which end of the pulse was taken
	Placed     int64            `json:"placed"`      // firings that stand in a whole, undisturbed interval
	Adrift     int64            `json:"adrift"`      // of those, too far from the rest to count for the timing line
	ScatterSD  Number           `json:"scatter_deg"` // pooled over the cylinders
	TimedSD    Number           `json:"timed_deg"`
}

// CoverEnough is the share of the claimed speeds that must be recorded for them to be judged.
const CoverEnough = timing.CoverEnough

// Timing is the timing error as a mark at TDC shows it, from every firing.
type Timing = timing.Timing

// Series are data for drawings, of bounded size.
type Series struct {
	Cycle     []CyclePoint `json:"cycle"`     // edges around one cycle
	BySpeed   []SpeedPoint `json:"by_speed"`  // spark against speed
	Speed     []TimePoint  `json:"speed"`     // speed against time, at most 512 points
	Cylinders []GridPoint  `json:"cylinders"` // spark after the active edge by cylinder and speed
	// Firings are the cylinders in firing order, cylinder 1 first, each compared with all; empty where it is not known
	// which cylinder is which.
	Firings []CylinderSpread `json:"firings"`
}

// CylinderSpread compares one cylinder's sparks with those of all, crank degrees, early positive. A vane out of its
// place counts: it moves the spark.
type CylinderSpread struct {
	Cylinder int     `json:"cylinder"`
	Count    int64   `json:"count"`
	Mean     float64 `json:"early_deg"` // its mean less the mean of all cylinders' means
	// SD is on the shaft, as CylinderResult.ScatterSD; where Bins are empty, it is that of the angle after the edge
	// within classes of speed.
	SD Number `json:"sd_deg"`
	// Bins are CylinderResult.Scatter; empty where too few firings were seen at running speed.
	Bins []int64 `json:"bins,omitempty"`
	// BySpeed is the same in classes of speed, there against the mean of all firings of the class; classes with fewer
	// than three firings, and those below the speeds of the timing line where the engine ran faster, are left out.
	BySpeed []SpreadAt `json:"by_speed"`
}

// SpreadAt is one class of speed; RPM is its middle.
type SpreadAt struct {
	RPM   float64 `json:"rpm"`
	Count int64   `json:"count"`
	Mean  float64 `json:"early_deg"`
	SD    float64 `json:"sd_deg"`
}

// Where CyclePoint.Deg may count from.
const (
	ZeroTDC  = "TDC firing of cylinder 1, by the mark"
	ZeroEdge = "cylinder 1's active crank edge"
	ZeroSome = "the active edge of some vane: cylinders could not be told apart"
)

// CyclePoint is one edge of the mean cycle.
type CyclePoint struct {
	Role     Role    `json:"role"`
	Channel  string  `json:"channel"`
	Edge     string  `json:"edge"`
	Deg      float64 `json:"deg"` // crank degrees after Result.Zero
	SD       Number  `json:"sd_deg"`
	Cylinder int     `json:"cylinder"` // 0: belongs to none
}

// SpeedPoint is one speed class.
type SpeedPoint struct {
	RPM       float64 `json:"rpm"`
	Count     int64   `json:"count"`
	AfterEdge float64 `json:"after_edge_deg"`
	SD        float64 `json:"sd_deg"`
	Error     Number  `json:"error_deg"`
	Line      Number  `json:"line_deg"`
	U         Number  `json:"U_deg"` // of the line, 95 %
	DwellMS   Number  `json:"dwell_ms"`
}

// TimePoint is speed over a slice of time.
type TimePoint struct {
	TimeS float64 `json:"time_s"` // start of the slice
	Min   float64 `json:"min"`
	Mean  float64 `json:"mean"`
	Max   float64 `json:"max"`
}

// GridPoint is one cylinder at one speed class.
type GridPoint struct {
	Cylinder int     `json:"cylinder"`
	RPM      float64 `json:"rpm"`
	Count    int64   `json:"count"`
	Mean     float64 `json:"after_edge_deg"`
	SD       float64 `json:"sd_deg"`
}

// Result is what a recording shows. Parts that could not be had are nil.
type Result struct {
	Name      string    `json:"name"`
	DurationS float64   `json:"duration_s"`
	Partial   string    `json:"partial,omitempty"` // set: only part of the recording could be read, and why
	Channels  []Channel `json:"channels"`
	Speed     *Speeds   `json:"speed_rpm"`
	// Acceleration is the range of acceleration from cycle to cycle, rpm/s.
	Acceleration *Speeds          `json:"acceleration_rpm_s,omitempty"`
	Sync         Sync             `json:"sync"`
	SyncBecause  string           `json:"sync_because"`
	SyncFrom     Number           `json:"sync_from_s"`
	Losses       []Loss           `json:"losses"`
	LossCount    int64            `json:"loss_count"`
	Stops        int64            `json:"stops"` // times that the shaft stood still between turning
	Anomalies    []Anomaly        `json:"anomalies"`
	AnomalyCount map[string]int64 `json:"anomaly_count"` // all of them, by kind; Anomalies lists the first ones
	Findings     []Finding        `json:"findings"`
	Doubts       []string         `json:"doubts"`
	Crank        *CrankResult     `json:"crank"`
	Cam          *CamResult       `json:"cam,omitempty"`
	Spark        *SparkResult     `json:"spark"`
	Timing       *Timing          `json:"timing,omitempty"`
	Alone        *Alone           `json:"alone,omitempty"` // one wire only: what it shows without a crank signal
	Stated       []Compared       `json:"stated"`          // what was measured beside what the card states
	Series       *Series          `json:"series,omitempty"`
	// Zero says where CyclePoint.Deg counts from: one of the Zero… texts.
	Zero  string `json:"zero"`
	Edges int64  `json:"edges"` // of all channels
}

// Compared is something measured beside what the job card states.
type Compared struct {
	What     string `json:"what"`
	Unit     string `json:"unit"`
	Measured Number `json:"measured"`
	Stated   Number `json:"stated"`
	Agrees   bool   `json:"agrees"`
}

// Alone is what a single wire shows without a crank signal.
type Alone struct {
	Channel  string  `json:"channel"`
	PerCycle float64 `json:"pulses_per_cycle"` // assumed, see Because
	Because  string  `json:"because"`
	Speed    Speeds  `json:"speed_rpm"`
	Uneven   float64 `json:"uneven_percent"` // median change from one interval to the next
	Lost     int64   `json:"lost"`           // pulses that did not come
	DwellMS  Number  `json:"dwell_ms"`
}

// Found says whether a finding with this identifier was made.
func (r *Result) Found(id string) bool {
	for _, f := range r.Findings {
		if f.ID == id {
			return true
		}
	}
	return false
}
