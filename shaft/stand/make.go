package stand

import (
	"fmt"
	"hash/fnv"
	"math/rand/v2"
)

// Classes names the classes of engines in the order of the report.
func Classes() []string {
	var names []string
	for _, c := range engines {
		names = append(names, c.name)
	}
	return names
}

// draw starts the chance of one case: its class and seed alone decide.
func draw(class string, seed uint64) chance {
	h := fnv.New64a()
	h.Write([]byte(class))
	return chance{rand.New(rand.NewPCG(seed, h.Sum64()))}
}

func engineOf(class string) *engine {
	for i := range engines {
		if engines[i].name == class {
			return &engines[i]
		}
	}
	return nil
}

// Make makes the case of a class, of engines or of others, with a seed.
func Make(class string, seed uint64) (*Case, error) { return made(class, seed, false) }

// MakeSmooth makes the same engine turning smoothly, without compression.
func MakeSmooth(class string, seed uint64) (*Case, error) { return made(class, seed, true) }

func made(class string, seed uint64, smooth bool) (*Case, error) {
	if k := engineOf(class); k != nil {
		r := draw(class, seed)
		g := k.make(r)
		text, card, err := g.card(r)
		if err != nil {
			return nil, fmt.Errorf("%s/%d: %w", class, seed, err)
		}
		if smooth {
			g.course.Ripple = 0
		}
		c := g.record(r)
		c.CardText, c.Card = text, card
		c.Class, c.Seed, c.Name = class, seed, fmt.Sprintf("%s/%d", class, seed)
		c.Info.Name = c.Name
		return c, nil
	}
	for _, o := range others {
		if o.name == class {
			c := o.record(draw(class, seed))
			c.Class, c.Seed, c.Name = class, seed, fmt.Sprintf("%s/%d", class, seed)
			c.Info.Name = c.Name
			return c, nil
		}
	}
	return nil, fmt.Errorf("there is no class %q", class)
}
