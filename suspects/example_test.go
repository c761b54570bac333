package suspects_test

import (
	"fmt"

	"phasewright/examples"
	"phasewright/jobcard"
	"phasewright/suspects"
)

// The light is right, yet the engine spits back and no compression is felt where the rotor comes to No. 1.
func ExampleEngine_Explain() {
	card, err := jobcard.Parse("sandpiper.yaml", []byte(examples.Cards()[0].YAML))
	if err != nil {
		fmt.Println(err)
		return
	}
	engine, err := suspects.New(card, suspects.DefaultPriors())
	if err != nil {
		fmt.Println(err)
		return
	}
	evidence, err := suspects.ReadEvidence("seen.yaml", []byte(`
light:       [{speed: 180 rpm, shown: 12 deg}]
engine:      {starting: spits through the intake}
compression: not felt
`))
	if err != nil {
		fmt.Println(err)
		return
	}
	result, err := engine.Explain(evidence, suspects.Limits{})
	if err != nil {
		fmt.Println(err)
		return
	}
	first := result.Suspects[0]
	fmt.Println(first.Name, first.Probability > 0.9)
	fmt.Println(first.Cure)
	fmt.Println(first.Check)
	// Output:
	// unit in half a turn out true
	// bring cylinder 1 up on compression; lift the unit and set it in half a turn round
	// compression is felt as the rotor comes to No. 1
}
