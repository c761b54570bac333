package report

// Instrument is what a job was measured with, as the shop's list had it when it was picked. Everything is in words.
type Instrument struct {
	Name        string
	Number      string // the shop's own; may be empty
	Kind        string // "timing light"
	Checked     string // day when it was last checked (ISO 8601); empty where nobody wrote it down
	Uncertainty string // with its unit; empty where it is not known
	Known       string // how it is known: "certificate"
}
