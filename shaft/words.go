package shaft

import (
	"math"
	"strconv"

	"phasewright/quantity"
)

func percent(share float64) string {
	if share > 0.999 {
		return "100 %"
	}
	return strconv.FormatFloat(100*share, 'f', 0, 64) + " %"
}

// trim prints a ratio with at most three figures.
func trim(v float64) string {
	if math.IsNaN(v) {
		return "no"
	}
	return strconv.FormatFloat(v, 'g', 3, 64)
}

func seconds(v float64) string { return quantity.Number(v, 3) + " s" }

func edgeName(rising bool) string {
	if rising {
		return "rising"
	}
	return "falling"
}

// stateRole tells how a channel's role is stated, in the command and on the page.
func stateRole(r Role) string {
	name := string(r)
	if r == Unknown {
		name = "ROLE"
	}
	return "state its role: --role NAME=" + name + " in the command, \u201cRead it again with other roles\u201d on the page"
}
