package suspects

import (
	"fmt"
	"slices"
	"strconv"

	"github.com/goccy/go-yaml/ast"

	"phasewright/yamltext"
)

// priorsFile bounds a file of priors.
var priorsFile = yamltext.Kind{Name: "a file of priors", Start: "begin with nothing:, none:, pair: or weight:", Bytes: 64 << 10, Depth: 16}

// ReadPriors reads priors of a shop's own over the default ones (YAML: nothing, none, pair, and weight with a number for each fault). What is not written
// stays as it was. On anything wrong the error is an Errors.
func ReadPriors(file string, data []byte) (Priors, error) {
	out := DefaultPriors()
	text, root := yamltext.Read(file, data, priorsFile)
	p := &reader{Text: text, seen: map[string]int{}}
	top := []string{"nothing", "none", "pair", "weight"}
	if len(p.Faults) == 0 {
		for _, entry := range p.entries("", root, top) {
			key := yamltext.Key(entry)
			if p.again(key, entry) {
				continue
			}
			switch key {
			case "nothing":
				p.share(key, entry, &out.Nothing, 1)
			case "none":
				p.share(key, entry, &out.None, 1)
			case "pair":
				p.share(key, entry, &out.Pair, 1)
			case "weight":
				for _, w := range p.entries(key, entry.Value, names[:]) {
					name := yamltext.Key(w)
					if p.again("weight."+name, w) {
						continue
					}
					k := slices.Index(names[:], name)
					if k < 0 {
						p.unknown(key, name, w.Key, names[:])
						continue
					}
					p.share("weight."+name, w, &out.Weight[k], 1e6)
				}
			default:
				p.unknown("", key, entry.Key, top)
			}
		}
	}
	if err := p.Err(); err != nil {
		return Priors{}, err
	}
	return out, out.check()
}

func (p *reader) share(path string, entry *ast.MappingValueNode, to *float64, most float64) {
	text, _ := plainText(entry.Value)
	x, err := strconv.ParseFloat(text, 64)
	if err != nil || !(x >= 0 && x <= most) {
		p.fail(path, entry.Value, fmt.Sprintf("%q is not accepted", short(text)), fmt.Sprintf("write a number from 0 to %g", most))
		return
	}
	*to = x
}
