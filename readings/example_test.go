package readings_test

import (
	"fmt"
	"strings"

	"phasewright/readings"
)

// Four readings at a locked 10°: early at idle, falling back as speed rises (invented).
func ExampleFit() {
	table, err := readings.Read(strings.NewReader("rpm,shown_deg,locked_deg\n800,11.4,10\n1600,11.1,10\n2400,10.6,10\n3200,10.3,10\n"), "readings.csv")
	if err != nil {
		fmt.Println(err)
		return
	}
	res, err := readings.Fit(table.Rows, readings.Settings{
		AllowanceNow: 100, AllowanceStep: 16, Idle: 800, Redline: 4000, Tolerance: 1,
		RotorTurns: "clockwise, seen from above the cap",
	})
	if err != nil {
		fmt.Println(err)
		return
	}
	fmt.Println(res.Verdict)
	fmt.Println(strings.Join(res.Advice, "\n"))
	// Output:
	// adjust
	// Stop the engine before anything is changed.
	// Set the delay allowance from 100 to 180 µs. Then switch the controller off and on. Read the setting back.
	// Turn the housing 0.9° with the rotor. That is half of 1.8°: the shaft turns at half crank speed. The rotor turns clockwise, seen from above the cap. Then tighten the clamp.
	// Read again at 3 600 rpm.
}

// A message says where, what and what to write instead.
func ExampleRead() {
	_, err := readings.Read(strings.NewReader("rpm,shown_deg,locked_deg\n800,12..5,10\n"), "readings.csv")
	fmt.Println(err)
	// Output: readings.csv:2:5: shown_deg "12..5" is not a number; write degrees BTDC such as 12.5, or none where the light did not flash
}
