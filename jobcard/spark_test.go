package jobcard_test

import (
	"math"
	"strings"
	"testing"

	"phasewright/jobcard"
	"phasewright/quantity"
)

// What a maker says of a spark box and of a coil's insulation is read with its limits; left out, it is not there.
func TestVoltagesOfTheMaker(t *testing.T) {
	text := examples(t)["gorse-hill.yaml"]
	box := strings.Replace(text, "output: spark box", "output: spark box, box_voltage: 38 kV ± 4 kV", 1)
	c, err := jobcard.Parse("gorse-hill.yaml", []byte(box))
	if err != nil {
		t.Fatal(err)
	}
	if v := c.Ignition.BoxVoltage; v.Value != 38000 || v.Limit != 4000 || !v.Stated {
		t.Errorf("%+v", v)
	}
	if c, err = jobcard.Parse("gorse-hill.yaml", []byte(text)); err != nil || c.Ignition.BoxVoltage.Value != 0 || !c.Assumed("ignition.box_voltage") {
		t.Errorf("left out: %+v %v", c.Ignition.BoxVoltage, err)
	}
	if c, err = jobcard.Parse("sandpiper.yaml", []byte(swap(t, "saturates_at: 8 A", "saturates_at: 8 A, ceiling: 40 kV"))); err != nil || c.Coil.Ceiling != 40000 {
		t.Errorf("ceiling: %v", err)
	}
}

// A dwell table is read in the order of its supplies, straight between its points and held beyond them; by hand.
func TestDwellTable(t *testing.T) {
	card := func(table string) (*jobcard.Card, error) {
		return jobcard.Parse("card.yaml", []byte(swap(t, "dwell: 3.2 ms", "dwell_table: "+table)))
	}
	c, err := card("[[9 V, 6 ms], [12 V, 3.6 ms], [14 V, 2.8 ms]]")
	if err != nil {
		t.Fatal(err)
	}
	for _, x := range []struct {
		supply quantity.Voltage
		want   quantity.Time
	}{{6, 6000}, {9, 6000}, {10.5, 4800}, {12, 3600}, {13, 3200}, {14, 2800}, {16, 2800}} {
		if got, given := c.Ignition.DwellAt(x.supply).Get(); !given || math.Abs(float64(got-x.want)) > 1e-6 {
			t.Errorf("at %v the table has %v, by hand %v", x.supply, got, x.want)
		}
	}
	for table, says := range map[string]string{"[[9 V, 6 ms]]": "at least two rows", "[[9 V, 6 ms], [8 V, 7 ms]]": "does not rise", "[[9 V, 6 ms], [12 V, 36 ms]]": "36", "[[9, 6 ms], [12 V, 3 ms]]": "no unit"} {
		if _, err := card(table); err == nil || !strings.Contains(err.Error(), says) {
			t.Errorf("%s: %v, wanted %q", table, err, says)
		}
	}
}
