package suspects

import "slices"

// groups joins faults that the evidence cannot tell apart: two hypotheses that differ in one fault, both favoured by
// the evidence over the same without that fault, and foreseeing everything that was seen alike once their sizes are
// fitted.
func (w *weighed) groups() [faultCount]int {
	var root [faultCount]int
	for k := range root {
		root[k] = k
	}
	find := func(k int) int {
		for root[k] != k {
			k = root[k]
		}
		return k
	}
	const (
		weighty = 0.003 // of all, for a hypothesis to be worth comparing
		speaks  = 2.5   // nats by which the evidence must favour the fault
		level   = 3.5   // nats between the likelihoods of two that are alike
	)
	best := map[set]*component{}
	for i := range w.comps {
		if c := &w.comps[i]; best[c.in] == nil || c.log-c.before > best[c.in].log-best[c.in].before {
			best[c.in] = c
		}
	}
	like := func(s set) float64 {
		if c := best[s]; c != nil {
			return c.log - c.before
		}
		if s == 0 {
			return w.sound.num
		}
		return -1e9
	}
	var sets []set
	for _, s := range w.order {
		p := w.sets[s]
		if s != 0 && p > weighty {
			sets = append(sets, s)
		}
	}
	slices.Sort(sets)
	views := map[set]*view{}
	viewOf := func(s set) *view {
		if views[s] == nil {
			v := w.look(best[s])
			views[s] = &v
		}
		return views[s]
	}
	for i, a := range sets {
		for _, b := range sets[:i] {
			onlyA, onlyB := a&^b, b&^a
			if len(onlyA.list()) != 1 || len(onlyB.list()) != 1 {
				continue
			}
			common := a & b
			la, lb := like(a), like(b)
			if la-like(common) < speaks || lb-like(common) < speaks || la-lb > level || lb-la > level {
				continue
			}
			if alike(viewOf(a), viewOf(b), w.items) {
				x, y := find(onlyA.list()[0]), find(onlyB.list()[0])
				root[max(x, y)] = min(x, y)
			}
		}
	}
	for k := range root {
		root[k] = find(k)
	}
	return root
}
