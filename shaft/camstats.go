package shaft

import "math"

// camStats is one cam edge against the crank edges; [0] at all speeds, [1] at speeds that enter the timing line.
type camStats struct {
	place, afterEdge, beforeEdge [2]gathered // the last two: way from the last active crank edge, way to the next
	margin, other                [2]float64
}

func (s *camStats) init() {
	for j := range 2 {
		s.margin[j], s.other[j] = math.Inf(1), math.Inf(1)
	}
}

// distances are how far the place of each cam edge, falling and rising, stands after the crank pickup's other edges, those of them that are known.
func (p *plan) distances() (out [2][]float64) {
	for i, at := range p.cam.at {
		for _, o := range p.w.other {
			if d := near(at-o, cycle); p.cam.on && !math.IsNaN(d) {
				out[i] = append(out[i], d)
			}
		}
	}
	return out
}

// camEdge places a cam edge of either kind.
func (y *ledger) camEdge(x *stretchOf, e *event) {
	which := bit(e.what == camRise)
	want := y.p.cam.at[which]
	if !y.p.cam.on || !x.numbered || x.early || !x.whole || y.upset > 0 || math.IsNaN(want) {
		return
	}
	at := x.c.at(e.t)
	off := fold(at - x.a.a + y.w.pos[x.a.k] - want)
	if math.Abs(off) > y.camTol {
		return
	}
	st := &y.cams[which]
	afterEdge, beforeEdge := at-x.a.a, x.b.a-at
	other := math.Inf(1)
	for _, o := range y.fromOther[which] {
		d := math.Abs(o + off)
		if d > turn {
			d = cycle - d
		}
		if d < other {
			other = d
		}
	}
	for j := range 2 {
		if j == 1 && x.n < y.s.fitFrom {
			break
		}
		st.place[j].add(off)
		st.afterEdge[j].add(afterEdge)
		st.beforeEdge[j].add(beforeEdge)
		st.margin[j] = min(st.margin[j], min(afterEdge, beforeEdge))
		st.other[j] = min(st.other[j], other)
	}
}
