package readings

import "slices"

// Then is the speed, rpm, that a reading would tell most at once one at Next, of usual u, is in; 0 where the readings
// do not make a line yet. The covariance follows the new reading by Sherman and Morrison, as in next.
func (res *Result) Then(set Settings) float64 {
	m := res.line
	if m.fit == nil || !m.slope || m.wild || res.Next <= 0 {
		return 0
	}
	f, q := *m.fit, perMicrosecond*res.Next
	C := f.Unit
	var Cx [2]float64
	for i := range Cx {
		Cx[i] = C[i][0] + q*C[i][1]
	}
	all := m.typical*m.typical + Cx[0] + q*Cx[1]
	f.Unit = slices.Clone(C)
	for i := range Cx {
		f.Unit[i] = slices.Clone(C[i])
		for j := range Cx {
			f.Unit[i][j] -= Cx[i] * Cx[j] / all
		}
	}
	m.fit = &f
	return m.next(set)
}
