// Package report puts a job on paper: the set-up sheet to pin up, the proof to hand over,
// the step list with boxes to tick, the timing tape; and a recording with its drawings, which pages show too.
//
// It takes what other rooms have worked out and lays it on pages of package drawing; it
// computes nothing. What comes from rooms outside this one (steps, overrides,
// attachments, the event chain, the machine-readable twin) comes in as plain values.
// Each page bears the paper's own number, the hash of the card, the days of work and issue, page of pages and the whole
// name (see Identity). The date is the job's, never the clock's, so the same job gives the same file, byte for byte.
//
// What fails: a missing card, sheet or proof, and a machine-readable twin that is not
// JSON, each as where – what – remedy. Characters that no embedded face holds are
// printed as code points and listed in Paper.Warnings.
package report
