package jobcard_test

import (
	"strings"
	"testing"

	"phasewright/jobcard"
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
