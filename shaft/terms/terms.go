// Package terms holds the words that all rooms of shaft share: the roles of channels, what was stated before a
// recording is read, and what a finding is.
package terms

import "fmt"

// Role is what a channel carries.
type Role string

// The roles.
const (
	Crank   Role = "crank"
	Cam     Role = "cam"
	Spark   Role = "spark"
	Mark    Role = "mark"
	Unknown Role = "unknown"
)

// ParseRole reads a role as a person writes it.
func ParseRole(text string) (Role, error) {
	switch r := Role(text); r {
	case Crank, Cam, Spark, Mark, Unknown:
		return r, nil
	}
	return Unknown, fmt.Errorf("%q is not a role; write crank, cam, spark, mark or unknown", text)
}

// StateRole tells a person how a channel's role is stated, in the command and on the page. Unknown stands for any role.
func StateRole(r Role) string {
	name := string(r)
	if r == Unknown {
		name = "ROLE"
	}
	return "state its role: --role NAME=" + name + " in the command, “Read it again with other roles” on the page"
}

// EdgeName is the word for an electrical edge.
func EdgeName(rising bool) string {
	if rising {
		return "rising"
	}
	return "falling"
}

// Finding is something wrong with the set-up that the recording shows, such as leads swapped.
type Finding struct {
	ID      string `json:"id"` // one of the Found… constants
	Channel string `json:"channel,omitempty"`
	Text    string `json:"text"`
	Remedy  string `json:"remedy,omitempty"`
}

// Identifiers of findings.
const (
	FoundNoCrank      = "no_crank"
	FoundNoCam        = "no_cam"
	FoundNoSpark      = "no_spark"
	FoundNoMark       = "no_mark"
	FoundNoChannel    = "no_such_channel"
	FoundNoEdges      = "no_edges"
	FoundSwapped      = "leads_swapped"
	FoundPolarity     = "polarity_wrong"
	FoundWrongEdge    = "wrong_active_edge"
	FoundVaneCount    = "vane_count"
	FoundNotLocked    = "not_locked"
	FoundCamMargin    = "cam_margin_small"
	FoundCamPlace     = "cam_misplaced"
	FoundSparksEnd    = "sparks_end"
	FoundSparkSpread  = "spark_scatter"
	FoundSameChannels = "same_edges"
	FoundCrosstalk    = "crosstalk"
	FoundMultiSpark   = "several_sparks"
	FoundVaneBent     = "vane_bent"
	FoundWobble       = "shaft_wobble"
	FoundDwell        = "dwell_not_as_set"
	FoundVaneWidth    = "vane_width"
)

// Findings collects findings and doubts while a recording is judged.
type Findings struct {
	List   []Finding
	Doubts []string
}

// Find adds a finding.
func (f *Findings) Find(id, channel, remedy, format string, a ...any) {
	f.List = append(f.List, Finding{ID: id, Channel: channel, Text: fmt.Sprintf(format, a...), Remedy: remedy})
}

// Doubt adds a doubt.
func (f *Findings) Doubt(format string, a ...any) {
	f.Doubts = append(f.Doubts, fmt.Sprintf(format, a...))
}

// Has says whether a finding with this identifier was made.
func (f *Findings) Has(id string) bool { return f.Text(id) != "" }

// Text is what the first finding of the id says; "" where there is none.
func (f *Findings) Text(id string) string {
	for _, x := range f.List {
		if x.ID == id {
			return x.Text
		}
	}
	return ""
}
