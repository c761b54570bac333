package readings

import (
	"cmp"
	"errors"
	"fmt"
	"math"
	"slices"

	"phasewright/engine"
	"phasewright/estimate"
)

// perMicrosecond is the timing error in degrees that one µs of delay left over makes at one
// rpm: −6·10⁻⁶, from 1 rpm = 6 °/s; the sign because delay is late and late is negative.
const perMicrosecond = -6e-6

// Fit puts one line through the readings and judges it. Cylinders read beside the first have an offset of their own on
// it and share its delay. Readings that are asked back (Settings.Doubts) do not count until they are confirmed.
// Rows that cannot be readings and settings that cannot be used are errors; too few readings are not: the result then
// says what is known and what to read next.
//
// Uncertainty. Weights come from the rows' u. The scale is that of the residual scatter, with
// t for its degrees of freedom, so that intervals hold whether the stated u are right or only
// right in proportion. Where every reading states its u and fewer than three readings are left
// over to show a scatter, the stated u are taken at their word (normal interval, Scale
// "stated", with a warning), unless the scatter contradicts them (chi-square at 5 %). The
// scatter is never believed below the rounding of the light's scale. Setting a misread aside
// rests on the stated u (0.4° where there is none) for few readings: where the true scatter is
// twice that, the 95 % intervals of six readings hold 93 %, and with KeepAll 95 %. Common uncertainties are
// added as a budget: constant ones to the offset only, a speed scale to what it does to the
// coefficients; expanded by Welch–Satterthwaite.
func Fit(rows []Row, set Settings) (*Result, error) {
	if err := set.Check(); err != nil {
		return nil, err
	}
	if i := lastStated(rows); set.AllowanceOpen && i >= 0 {
		set.AllowanceNow, set.AllowanceOpen = rows[i].Allowance, false
	}
	res := &Result{
		Offset: Unknown(), Delay: Unknown(), CrankingError: Unknown(),
		Allowance: Allow(set.allowanceNow(), 0, 1),
		Housing:   Housing{Direction: Leave},
		Outliers:  []int{}, CrankingRows: []int{}, ErrorAt: []ErrorAt{}, Budget: []Line{}, Advice: []string{},
		Warnings: []string{}, Asked: []Doubt{}, Cylinders: []Cylinder{}, Wires: []WireError{},
		Worst: ErrorAt{Value: math.NaN(), U: math.Inf(1)}, After: ErrorAt{Value: math.NaN(), U: math.Inf(1)},
		ResidualSD: Number(math.NaN()), RoundingDeg: Number(math.NaN()),
		LackOfFit: LackOfFit{P: Number(math.NaN()), Deg: Number(math.NaN())},
		Scale:     "none", Tolerance: float64(set.Tolerance), Confidence: set.confidence(),
	}
	p, err := prepare(rows, set, res)
	if err != nil {
		return nil, err
	}
	if set.Misreads != KeepAll {
		if err := p.excludeMisreads(set, res); err != nil {
			return nil, err
		}
	}
	m, err := p.model(set)
	if err != nil {
		return nil, err
	}
	res.line = m
	m.report(res, set)
	m.judge(res, set)
	res.Next = m.next(set)
	res.advise(m, set, rows)
	return res, nil
}

// points are the steady readings, brought to the present allowance and housing.
type points struct {
	row            []int // index into the table
	wire           []int // cylinder
	n, y, u        []float64
	allowanceError []float64 // c of the row − c now, µs
	housing        []float64
	locked         []float64
	stated         bool // every reading states its u
	resolution     float64
	inferred       bool // resolution taken from the digits
	cranking       []float64
}

func prepare(rows []Row, set Settings, res *Result) (*points, error) {
	k := len(rows)
	store := make([]float64, 6*k)
	take := func() []float64 { s := store[:0:k]; store = store[k:]; return s }
	p := &points{row: make([]int, 0, k), wire: make([]int, 0, k), n: take(), y: take(), u: take(),
		allowanceError: take(), housing: take(), locked: take(), stated: true}
	housingNow := set.HousingNow
	if k > 0 && !set.HousingNowStated {
		housingNow = rows[k-1].Housing
	}
	res.Points = make([]Point, 0, k)
	slow := set.crankingBelow()
	res.Asked = append(res.Asked, set.Doubts(rows)...)
	asked := notCounted(res.Asked)
	for i := range rows {
		r := &rows[i]
		if err := r.Check(); err != nil {
			return nil, fmt.Errorf("reading %d: %w", i+1, err)
		}
		allowance := set.AllowanceNow
		if r.AllowanceStated {
			allowance = r.Allowance
		}
		// The reading as it would have been at the present allowance and housing: more
		// allowance makes it earlier, a turn with the rotor later.
		e := r.TimingError() - r.Speed.Over(allowance-set.AllowanceNow) + engine.ShaftToCrank(r.Housing-housingNow)
		point := Point{Row: i + 1, RPM: float64(r.Speed), Error: float64(e), U: Number(math.Inf(1)),
			Carried: allowance != set.AllowanceNow || r.Housing != housingNow}
		if given := cmp.Or(r.U, set.ReadingU); given > 0 {
			point.U = Number(given)
		}
		if k := r.Cylinder(); k > 1 {
			point.Wire = k
		}
		res.Points = append(res.Points, point)
		if asked[i+1] {
			continue
		}
		if r.Speed < slow {
			res.CrankingRows = append(res.CrankingRows, i+1)
			p.cranking = append(p.cranking, float64(e))
			continue
		}
		u := float64(r.U)
		if u == 0 {
			u = float64(set.ReadingU)
		}
		if u == 0 {
			u, p.stated = assumedU, false
		}
		p.row, p.wire = append(p.row, i), append(p.wire, r.Cylinder())
		p.n = append(p.n, float64(r.Speed))
		p.y = append(p.y, float64(e))
		p.u = append(p.u, u)
		p.allowanceError = append(p.allowanceError, float64(allowance-set.AllowanceNow))
		p.housing, p.locked = append(p.housing, float64(r.Housing)), append(p.locked, float64(r.Locked))
	}
	p.resolution = float64(set.Resolution)
	if p.resolution == 0 {
		p.resolution, p.inferred = writtenStep(rows), true
	}
	return p, nil
}

// writtenStep is the coarsest usual step that all shown advances are whole multiples of: what
// the writer read to. 0 where there is none.
func writtenStep(rows []Row) float64 {
	for _, step := range [...]float64{1, 0.5, 0.25, 0.2, 0.1, 0.05, 0.02, 0.01} {
		whole := len(rows) > 0
		for i := range rows {
			q := float64(rows[i].Shown) / step
			if math.Abs(q-math.Round(q)) > 1e-6 {
				whole = false
				break
			}
		}
		if whole {
			return step
		}
	}
	return 0
}

// excludeMisreads names the misreads and takes them out. Readings that walk with time or with the command look like
// misreads too, one by one; where all of them together show that, they stay.
func (p *points) excludeMisreads(set Settings, res *Result) error {
	rule := estimate.MisreadRule{PriorDOF: 4}
	if p.stated {
		rule = estimate.MisreadRule{PriorDOF: estimate.RelativeDOF(0.25), Alpha: 0.005}
	}
	named := p.misreads(rule)
	if len(named) == 0 {
		return nil
	}
	m, err := p.model(set)
	if err != nil || m.walks(set, res) {
		return err
	}
	keep := 0
	for i := range p.row {
		if len(named) > 0 && named[0] == i {
			named = named[1:]
			res.Outliers = append(res.Outliers, p.row[i]+1)
			continue
		}
		p.row[keep], p.wire[keep], p.n[keep], p.y[keep], p.u[keep] = p.row[i], p.wire[i], p.n[i], p.y[i], p.u[i]
		p.allowanceError[keep], p.housing[keep], p.locked[keep] = p.allowanceError[i], p.housing[i], p.locked[i]
		keep++
	}
	p.row, p.wire, p.n, p.y, p.u = p.row[:keep], p.wire[:keep], p.n[:keep], p.y[:keep], p.u[:keep]
	p.allowanceError, p.housing, p.locked = p.allowanceError[:keep], p.housing[:keep], p.locked[:keep]
	return nil
}

// misreads names the misreads of each wire by its own line, in rising order: an offset of a cylinder is no misread.
func (p *points) misreads(rule estimate.MisreadRule) []int {
	read := p.cylinders()
	if len(read) < 2 {
		return estimate.Misreads(p.n, p.y, p.u, rule)
	}
	var named []int
	for _, c := range read {
		var at []int
		var n, y, u []float64
		for i, w := range p.wire {
			if w == c {
				at, n, y, u = append(at, i), append(n, p.n[i]), append(y, p.y[i]), append(u, p.u[i])
			}
		}
		for _, k := range estimate.Misreads(n, y, u, rule) {
			named = append(named, at[k])
		}
	}
	slices.Sort(named)
	return named
}

// model is the fitted line with all its uncertainties.
type model struct {
	*points
	fit     *estimate.Fitted // nil without readings
	columns [][]float64      // of fit: ones, the slope where there is one, then each cylinder but the first
	read    []int            // cylinders, the one of the line first
	slope   bool             // false: all at one speed, only a mean for each cylinder
	wild    bool             // the line is known so badly that it tells nothing
	factor  float64          // scale on the u of the points; +Inf: not known
	raw     float64          // the same before the floor of the light's resolution
	dof     float64
	scale   string
	typical float64 // the u of a typical point
	common  []response
	lack    estimate.Test
	chi     estimate.Test // residuals against stated u
	t       tTable
}

// response is what one standard uncertainty of a common error does to the coefficients.
type response struct {
	name    string
	shape   estimate.Shape
	coef    []float64
	assumed bool
	ownMark float64 // what it is by itself on every other mark, crank degrees
}

func (p *points) model(set Settings) (model, error) {
	m := model{points: p, factor: math.Inf(1), raw: math.Inf(1), scale: "none", t: tTable{confidence: set.confidence()}}
	m.lack.P, m.chi.P = math.NaN(), math.NaN()
	k := len(p.n)
	if k == 0 {
		return m, nil
	}
	m.read = p.cylinders()
	store := make([]float64, (1+len(m.read))*k)
	ones, slopes := store[:k], store[k:2*k]
	for i, n := range p.n {
		ones[i], slopes[i] = 1, perMicrosecond*n
	}
	m.columns = [][]float64{ones, slopes}
	for j, c := range m.read[1:] {
		own := store[(2+j)*k : (3+j)*k]
		for i, w := range p.wire {
			if w == c {
				own[i] = 1
			}
		}
		m.columns = append(m.columns, own)
	}
	err := estimate.ErrCollinear
	if !p.oneSpeed() {
		m.fit, err = estimate.LeastSquares(m.columns, p.y, p.u)
	}
	m.slope = err == nil
	if errors.Is(err, estimate.ErrCollinear) || errors.Is(err, estimate.ErrTooFew) {
		m.columns = append([][]float64{ones}, m.columns[2:]...)
		m.fit, err = estimate.LeastSquares(m.columns, p.y, p.u)
	}
	if err != nil {
		return m, fmt.Errorf("line through the readings: %w", err)
	}
	m.findScale()
	m.testLine(slopes)
	m.spreadCommon(set)
	m.wild = m.slope && m.tellsNothing(set)
	return m, nil
}

// findScale decides what the uncertainty rests on; see Fit.
func (m *model) findScale() {
	var weight float64
	for _, u := range m.u {
		weight += 1 / (u * u)
	}
	m.typical = math.Sqrt(float64(len(m.u)) / weight)
	sd, dof := m.fit.SD(), m.fit.DOF
	m.raw = sd
	if m.stated {
		m.chi = estimate.AgainstStated(m.fit)
	}
	switch {
	case m.stated && (dof < 1 || dof < 3 && m.chi.P > 0.05):
		m.factor, m.dof, m.scale = 1, math.Inf(1), "stated"
	case dof >= 1:
		m.factor, m.dof, m.scale = sd, float64(dof), "scatter"
	default:
		return
	}
	m.factor = math.Max(m.factor, m.resolution/math.Sqrt(12)/m.typical)
}

// testLine asks whether the error follows a line at all.
func (m *model) testLine(slopes []float64) {
	if !m.slope {
		return
	}
	floor := m.resolution / math.Sqrt(12) / m.typical
	first := estimate.PureError(m.fit, m.groups(), m.u, floor*floor)
	if !first.Made() {
		first = m.chi
	}
	square := make([]float64, len(slopes))
	for i, s := range slopes {
		square[i] = s * s
	}
	m.lack = first
	// The scatter is not believed below the rounding here either.
	bend := estimate.Curvature(m.fit, m.columns, square, m.y, m.u, floor*floor)
	switch {
	case !bend.Made():
	case !first.Made():
		m.lack = bend
	default: // two questions put to the same readings: Bonferroni
		if bend.P < first.P {
			m.lack = bend
		}
		m.lack.P = math.Min(1, 2*m.lack.P)
	}
}

// groups numbers the sets of repeats: same wire, speed, allowance and housing.
func (m *model) groups() []int {
	k := len(m.n)
	group := make([]int, k)
	if k <= 40 { // a map costs more than it saves
		next := 0
		for i := range group {
			group[i] = -1
			for j := range i {
				if m.n[i] == m.n[j] && m.wire[i] == m.wire[j] && m.allowanceError[i] == m.allowanceError[j] &&
					m.housing[i] == m.housing[j] {
					group[i] = group[j]
					break
				}
			}
			if group[i] < 0 {
				group[i] = next
				next++
			}
		}
		return group
	}
	seen := make(map[[4]float64]int)
	for i := range group {
		key := [4]float64{m.n[i], m.allowanceError[i], m.housing[i], float64(m.wire[i])}
		g, ok := seen[key]
		if !ok {
			g = len(seen)
			seen[key] = g
		}
		group[i] = g
	}
	return group
}

// spreadCommon works out what each common error does to the coefficients.
func (m *model) spreadCommon(set Settings) {
	m.common = make([]response, 0, len(set.Common))
	for _, c := range set.Common {
		r := response{name: c.Name, shape: c.shape(), assumed: c.Assumed, coef: make([]float64, len(m.fit.Coef))}
		u := c.standard()
		switch {
		case c.Effect == Constant:
			r.coef[0] = u // the constant column takes all of it
			if c.EachMark {
				r.ownMark = u
			}
		case c.Effect == LateFlash && !m.slope: // all at one speed: it cannot be told from a constant
			r.coef[0] = -perMicrosecond * m.n[0] * u
		case !m.slope || u == 0:
		case c.Effect == LateFlash:
			r.coef[1] = u
		case math.IsInf(u, 1):
			r.coef[0], r.coef[1] = u, u
		default:
			// A tachometer that reads n where the crank turns n·(1+δ): every reading carries
			// δ times its own speed-dependent error more.
			dy := make([]float64, len(m.n))
			for i, n := range m.n {
				dy[i] = perMicrosecond * n * (m.fit.Coef[1] - m.allowanceError[i])
			}
			for j, d := range m.fit.Response(dy) {
				r.coef[j] = u * d
			}
		}
		m.common = append(m.common, r)
	}
}

// lastStated is the index of the last row that says under which allowance it was taken, -1 where none does.
func lastStated(rows []Row) int {
	for i := len(rows) - 1; i >= 0; i-- {
		if rows[i].AllowanceStated {
			return i
		}
	}
	return -1
}
