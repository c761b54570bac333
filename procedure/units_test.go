package procedure_test

import (
	"fmt"
	"strings"
	"testing"

	"phasewright/examples"
	"phasewright/jobcard"
	"phasewright/procedure"
	"phasewright/quantity"
	"phasewright/sheet"
)

// The steps show lengths in the unit of the shop, with the mm that are asked for beside them; what a step rests on does
// not change with the unit, so that nothing proven expires. 60° on 168 mm: 87.96 mm, 3.463 in.
func TestStepsShowTheUnitOfTheShop(t *testing.T) {
	for k, e := range examples.Cards() {
		steps := map[quantity.LengthUnit][]procedure.Step{}
		for _, u := range []quantity.LengthUnit{0, quantity.Inch} {
			c, err := jobcard.Parse("card.yaml", []byte(e.YAML))
			if err != nil {
				t.Fatal(err)
			}
			c.Job.Units = u
			s, err := sheet.Make(c)
			if err != nil {
				t.Fatal(err)
			}
			p, err := procedure.New(c, s)
			if err != nil {
				t.Fatal(err)
			}
			steps[u] = p.Steps()
			marks, _ := p.Step(procedure.StepMarks)
			want := map[quantity.LengthUnit]string{0: "88.0 mm along the rim", quantity.Inch: "3.463 in (88.0 mm) along the rim"}[u]
			if shown := fmt.Sprint(marks.Show); k == 0 && !strings.Contains(shown, want) || marks.Demand.Unit != "mm" {
				t.Errorf("%s in %v: the marks are %s, asked in %s", e.Name, u, shown, marks.Demand.Unit)
			}
		}
		for i, st := range steps[0] {
			if in := steps[quantity.Inch][i]; st.Basis != in.Basis {
				t.Errorf("%s: %s rests on %q, and in inches on %q", e.Name, st.ID, st.Basis, in.Basis)
			}
		}
	}
}
