package suspects

import (
	"fmt"
	"strconv"
	"strings"

	"phasewright/yamltext"
)

// priorsFile bounds a file of priors.
var priorsFile = yamltext.Kind{Name: "a file of priors", Start: "begin with nothing:, none:, pair: or weight:",
	Bytes: 64 << 10, Depth: 16}

// mostWeight bounds what may be written for one fault: more is a slip of the hand.
const mostWeight = 1e6

// ReadPriors reads priors of a shop's own over the default ones (YAML: nothing, none, pair, and weight with a number
// for each fault). What is not written stays as it was. On anything wrong the error is an Errors.
func ReadPriors(file string, data []byte) (Priors, error) {
	out := DefaultPriors()
	share := func(path string, to *float64, most float64) yamltext.Field {
		return yamltext.Field{Path: path, Set: func(v yamltext.Value) *yamltext.Fault {
			text := strings.TrimSpace(v.Text)
			x, err := strconv.ParseFloat(text, 64)
			if err != nil || !(x >= 0 && x <= most) {
				return yamltext.Wrong(fmt.Sprintf("%q is not accepted", short(text)),
					fmt.Sprintf("write a number from 0 to %g", most))
			}
			*to = x
			return nil
		}}
	}
	rows := []yamltext.Field{share("nothing", &out.Nothing, 1), share("none", &out.None, 1),
		share("pair", &out.Pair, 1)}
	for k, name := range names() {
		rows = append(rows, share("weight."+name, &out.Weight[k], mostWeight))
	}
	if err := yamltext.ReadTable(file, data, priorsFile, yamltext.Table{Fields: rows}).Err(); err != nil {
		return Priors{}, err
	}
	return out, out.check()
}
