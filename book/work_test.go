package book

import (
	"fmt"
	"testing"
	"time"
)

// A shop of two bays, invented: who did what, when, is told by hour, and the list chooses by bay, person, month and
// what waits.
func TestTheListTellsBaysHandsAndWork(t *testing.T) {
	b := openNew(t)
	monday := time.Date(2026, 11, 9, 9, 20, 0, 0, time.UTC)
	made := func(name, bay string) string {
		e, err := b.CreateJob(t.Context(), NewJob{Who: "Ada", Name: name, At: monday})
		if err != nil {
			t.Fatal(err)
		}
		mustAppend(t, b, e.Job, AnyVersion, Draft{Who: "Ada", Kind: KindJobDescribed, At: monday, Payload: []byte(`{"bay":"` + bay + `"}`)})
		return e.Job
	}
	did := func(job string, at time.Time, kind Kind, payload string) {
		mustAppend(t, b, job, AnyVersion, Draft{Who: HostScreen, Kind: kind, Payload: []byte(payload), At: at})
	}
	ferry, pump := made("ferry", "north"), made("pump", "south")
	did(ferry, monday.Add(time.Hour), KindStepDone, `{"step":"chocks","who":"Ben"}`)
	did(ferry, monday.Add(time.Hour+time.Minute), KindReadingAdded, `{"rpm":900,"who":"Ben"}`)
	did(ferry, monday.Add(3*time.Hour), KindReadingAdded, `{"rpm":1900,"who":"Cy"}`)
	did(pump, monday.Add(24*time.Hour), KindCorrectionMade, `{"who":"Ben"}`)
	did(pump, monday.Add(25*time.Hour), KindJobDescribed, `{"waiting":"part"}`)
	did(ferry, monday.Add(30*24*time.Hour), KindProofSigned, `{"name":"Dora","verdict":"pass"}`)

	names := func(q Query) (out string) {
		page, err := b.Jobs(t.Context(), q)
		if err != nil {
			t.Fatal(err)
		}
		for _, j := range page.Jobs {
			out += j.Name + " "
		}
		return out
	}
	november, december := time.Date(2026, 11, 1, 0, 0, 0, 0, time.UTC), time.Date(2026, 12, 1, 0, 0, 0, 0, time.UTC)
	for _, c := range []struct {
		q    Query
		want string
	}{
		{Query{}, "ferry pump "},
		{Query{Bay: "south"}, "pump "},
		{Query{Bay: "west"}, ""},
		{Query{Person: "Dora"}, "ferry "}, // the signature took it into her hands
		{Query{Person: "Ben"}, "pump "},
		{Query{Person: "Ben", From: november, To: december}, "ferry pump "},
		{Query{Person: "Cy", To: december}, "ferry "},
		{Query{From: december}, "ferry "},
		{Query{From: monday.Add(23 * time.Hour), To: december}, "pump "},
		{Query{Waiting: true}, "pump "},
		{Query{Text: "fer", Bay: "north"}, "ferry "},
		{Query{Text: "fer", Bay: "south"}, ""},
		{Query{Text: "ferri", Bay: "south"}, ""}, // nor by words like it
		{Query{Text: "pum", Person: "Ben", From: november}, "pump "},
	} {
		if got := names(c.q); got != c.want {
			t.Errorf("%+v: %q, want %q", c.q, got, c.want)
		}
	}
	done, more, err := b.Done(t.Context(), Query{From: november, To: december})
	if err != nil || more {
		t.Fatal(err, more)
	}
	got := ""
	for _, d := range done {
		got += fmt.Sprintf("%s %s %d.%d.%d.%d.%d\n", d.Person, d.Name, d.Steps, d.Readings, d.Corrections, d.Proofs, d.Entries)
	}
	want := " pump 0.0.0.0.1\nAda pump 0.0.0.0.2\nAda ferry 0.0.0.0.2\nBen pump 0.0.1.0.1\nBen ferry 1.1.0.0.2\nCy ferry 0.1.0.0.1\n"
	if got != want {
		t.Errorf("done:\n%swant\n%s", got, want)
	}
	if done, _, err = b.Done(t.Context(), Query{From: november, Person: "Ben", Bay: "north"}); err != nil || len(done) != 1 {
		t.Errorf("%+v, %v", done, err)
	}
	bays, persons, err := b.Hands(t.Context())
	if err != nil || fmt.Sprint(bays, persons) != "[north south] [Ben Dora]" {
		t.Error(bays, persons, err)
	}
	if j, _ := b.Job(t.Context(), pump); j.Waiting != "part" || !j.WaitingAt.Equal(monday.Add(25*time.Hour)) || !j.OpenedAt.Equal(monday) {
		t.Errorf("%+v", j)
	}
	did(pump, monday.Add(49*time.Hour), KindStepDone, `{"step":"drop","who":"Eve"}`)
	did(pump, monday.Add(49*time.Hour), KindJobDescribed, `{"person":"Finn"}`)
	if j, _ := b.Job(t.Context(), pump); j.Waiting != "" || !j.WaitingAt.IsZero() || j.Person != "Finn" {
		t.Errorf("work went on, and it waits: %+v", j)
	}
	did(pump, monday.Add(50*time.Hour), KindJobArchived, `{}`)
	did(pump, monday.Add(51*time.Hour), KindJobReopened, `{}`)
	if j, _ := b.Job(t.Context(), pump); !j.OpenedAt.Equal(monday.Add(51 * time.Hour)) {
		t.Errorf("open since %s", j.OpenedAt)
	}
	mustBeSound(t, b)
	if r, err := b.Rebuild(t.Context()); err != nil || len(r.Differences) > 0 {
		t.Errorf("%+v, %v", r, err)
	}
}
