package shaft

import (
	"encoding/json"
	"math"
	"strings"
	"testing"
)

// What a result may hold passes, figures that are not known too; what no recording gives is named with its place. All
// of it is invented.
func TestResultCheck(t *testing.T) {
	unknown := Number(math.NaN())
	good := Result{DurationS: 20, Edges: 900, Speed: &Speeds{Min: 180, Mean: 900, Max: 4200},
		Crank: &CrankResult{EdgesPerCycle: 6, VaneWidthDeg: unknown}, Spark: &SparkResult{Count: 90,
			DwellMS: Number(math.Inf(1))},
		Series: &Series{Cycle: []CyclePoint{{Deg: 719}}, Speed: []TimePoint{{TimeS: 1, Min: 700, Mean: 750, Max: 800}}}}
	if err := good.Check(); err != nil {
		t.Error(err)
	}
	for text, say := range map[string]string{
		`{"speed_rpm":{"min":1e9}}`:          "summary.speed_rpm.min is impossible: 1e+09",
		`{"series":{"speed":[{"max":1e9}]}}`: "summary.series.speed[0].max",
		`{"duration_s":-1}`:                  "summary is impossible", `{"edges":-1}`: "summary is impossible",
		`{"crank":{"edges_per_cycle":-1}}`:                          "summary.crank.edges_per_cycle",
		`{"crank":{"spacing_error_deg":[0,1e300]}}`:                 "summary.crank.spacing_error_deg[1] is impossible: 1e+300",
		`{"spark":{"dwell_ms":-1e16}}`:                              "summary.spark.dwell_ms",
		`{"spark":{"by_cylinder":[{},{"count":9000000000000000}]}}`: "summary.spark.by_cylinder[1].count",
		`{"series":{"cycle":[{"deg":721},{"deg":-721}]}}`:           "summary.series.cycle[1].deg is impossible: -721°",
		`{"timing":{"error_at":[{"rpm":1e7}]}}`:                     "summary.timing.error_at[0].rpm",
		`{"doubts":[` + strings.Repeat(`"",`, mostListed) + `""]}`:  "summary.doubts is impossible: a list of 100001",
	} {
		var r Result
		if err := json.Unmarshal([]byte(text), &r); err != nil {
			t.Fatal(err)
		}
		if err := r.Check(); err == nil || !strings.Contains(err.Error(), say) {
			t.Errorf("%.60s: %v, want %q", text, err, say)
		}
	}
}
