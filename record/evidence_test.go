package record

import (
	"errors"
	"net/url"
	"os"
	"slices"
	"strings"
	"testing"

	"phasewright/jobcard"
	"phasewright/suspects"
)

func exampleCard(t *testing.T, name string) *jobcard.Card {
	t.Helper()
	data, err := os.ReadFile("../examples/" + name + ".yaml")
	if err != nil {
		t.Fatal(err)
	}
	card, err := jobcard.Parse(name, data)
	if err != nil {
		t.Fatal(err)
	}
	return card
}

// What was typed or tapped is what the reader reads: units put beside bare numbers, directions as signs, entries of
// lists. The values are invented; lead 60°, idle 750 rpm stand on the card.
func TestEvidenceTextIsReadAsTyped(t *testing.T) {
	card := exampleCard(t, "sandpiper")
	given := url.Values{"battery.rest": {"12,4"}, "rotor.off": {"3"}, "rotor.off way": {"behind"},
		"housing.turn_to_edge": {"-1.5 deg"}, "housing.turn_to_edge way": {"with the rotor"},
		"capture.offset": {"2 ± 0.3"}, "controller.errors": {"4"}, "engine.misfire": {"3", "5"}, "engine.worse": {"none"},
		"lamp crank before": {"low"}, "flashes on the starter": {"none"}, "mark at idle": {InSight},
		"light 1.speed": {"3000"}, "light 1.shown": {"8"}, "light 1.which": {"other"}, "light 2.speed": {"700"},
		"cylinders 3.cut_drop": {"40"}, "cylinders 3.plug": {"wet"}, "cylinders 5.wire": {"6"}, "notes": {"new: cap, \"May\""},
		"at": {"lamps"}}
	text := EvidenceText(given, card)
	ev, err := suspects.ReadEvidence("typed", []byte(text.Text))
	if err != nil {
		t.Fatalf("%v\n%s", err, text.Text)
	}
	lead := float64(card.Signals.Crank.Lead)
	for what, ok := range map[string]bool{
		"battery":    ev.Battery.Rest.Value == 12.4,
		"behind":     ev.Rotor.Off.Value == -3,
		"own sign":   ev.HousingTurn.Value == -1.5,
		"±":          ev.Capture.Offset.Value == 2 && ev.Capture.Offset.U > 0,
		"count":      ev.Seen.Measured["controller.errors"].Value == 4,
		"misfire":    len(ev.Engine.Misfire) == 2 && ev.Engine.Misfire[1] == 5,
		"none":       ev.Seen.Several["engine.worse"] != nil && len(ev.Seen.Several["engine.worse"]) == 0,
		"lamp":       len(ev.Lamps) == 1 && ev.Lamps[0].At.Value == lead+LampOff && ev.Lamps[0].Crank == "low",
		"light":      len(ev.Light) == 2 && ev.Light[0].Flashes == "none" && ev.Light[1].Which == "other",
		"shown":      len(ev.Light) == 2 && ev.Light[1].Speed == 3000 && ev.Light[1].Shown.Value == 8,
		"cylinders":  len(ev.Cylinders) == 2 && ev.Cylinders[0].Cylinder == 3 && ev.Cylinders[0].Said["cylinders.plug"] == "wet",
		"cut":        ev.Cylinders[0].Measured["cylinders.cut_drop"].Value == 40,
		"kohm":       ev.Cylinders[1].Measured["cylinders.wire"].Value == 6000,
		"free words": ev.Notes == `new: cap, "May"`,
	} {
		if !ok {
			t.Errorf("%s is wrong in\n%s", what, text.Text)
		}
	}
	// what the reader refuses is said of the field that it was typed into
	given = url.Values{"lamp crank before": {"blue"}, "light 2.shown": {"much"}, "light 2.speed": {"700"},
		"light 3.shown": {"8"}, "cylinders 5.wire": {"six"}, "battery.rest": {"full"}}
	bad := EvidenceText(given, card)
	_, err = suspects.ReadEvidence("typed", []byte(bad.Text))
	var es suspects.Errors
	if !errors.As(err, &es) || len(es) != 5 {
		t.Fatalf("read: %v", err)
	}
	want := []string{"battery.rest", "cylinders 5.wire", "lamp crank before", "light 2.shown", "light 3.speed"}
	var got []string
	for _, e := range es {
		got = append(got, bad.Field(e.Line, e.Path))
	}
	if slices.Sort(got); !slices.Equal(got, want) {
		t.Errorf("refused: %q, want %q", got, want)
	}
}

// Nothing seen is an evidence file too, and "none" with another answer is a contradiction that the reader refuses.
func TestEvidenceTextOfNothing(t *testing.T) {
	card := exampleCard(t, "sandpiper")
	if _, err := suspects.ReadEvidence("typed", []byte(EvidenceText(nil, card).Text)); err != nil {
		t.Error(err)
	}
	both := EvidenceText(url.Values{"engine.misfire": {"none", "3"}}, card).Text
	if _, err := suspects.ReadEvidence("typed", []byte(both)); err == nil || !strings.Contains(err.Error(), "none") {
		t.Errorf("read: %v", err)
	}
}
