package shaft

import (
	"strings"

	"phasewright/shaft/roles"
	"phasewright/shaft/terms"
	"phasewright/shaft/wheel"
	"phasewright/waveform"
	"phasewright/words"
)

// identify finds which channel carries what, and where everything stands on the wheel, from the first stretch.
func identify(facts *terms.Facts, info waveform.Info, edges []waveform.Edge) *identified {
	t := &identified{facts: facts, profiles: roles.Profiles(info.Channels, edges)}
	t.judge = roles.NewJudge(facts, t.profiles)
	t.assigned = t.judge.Best()
	for i := range info.Channels {
		role, reason := t.judge.Explain(&t.assigned, i)
		t.roles, t.reasons = append(t.roles, role), append(t.reasons, reason)
	}
	t.checkRoles()
	a := t.assigned
	if a.Crank < 0 {
		t.alone = describeAlone(facts, t.profiles, info.Channels)
		return t
	}
	if a.Vanes >= 1 && a.Vanes <= terms.MostVanes {
		t.layout = wheel.Learn(facts, a, t.profiles, max(info.Interval, info.Tick))
	}
	return t
}

func (t *identified) name(i int) string { return t.profiles[i].Name }

// checkRoles finds signals that are missing, doubled, swapped or in doubt.
func (t *identified) checkRoles() {
	f, a := &t.findings, t.assigned
	edges := false
	for i, p := range t.profiles {
		edges = edges || len(p.Rise)+len(p.Fall) > 0
		if p.DuplicateOf >= 0 && p.Usable {
			f.Find(terms.FoundSameChannels, p.Name, "check that the probes sit on different wires",
				"%s carries the same edges as %s", p.Name, t.name(p.DuplicateOf))
		}
		if r := t.facts.Roles[p.Name]; r != "" && r != Unknown && !p.Usable {
			f.Doubt("%s was stated to be %s, but it %s", p.Name, r, p.Reason)
		}
		if of, echo := t.judge.Crosstalk(i); echo {
			f.Find(terms.FoundCrosstalk, p.Name, "connect it, or take its probe off. Nothing is judged by it",
				"%s changes only when a spark jumps on %s. Nothing is connected to it, or its cable lies too near",
				p.Name, t.name(of))
		}
	}
	for _, name := range t.facts.Names() {
		if !t.known(name) {
			f.Find(terms.FoundNoChannel, name, "write the name as the recording has it: "+t.names(),
				"no channel is called %q", name)
		}
	}
	for i, p := range t.profiles {
		if why := t.judge.Unsure(i); why != "" {
			f.Doubt("%s: %s. The recording bears out both nearly as well. %s", p.Name, why,
				words.Capital(terms.StateRole(Unknown)))
		}
	}
	switch {
	case len(t.profiles) == 0:
		f.Find(terms.FoundNoEdges, "", "record at least the crank pickup", "the recording has no channels")
		return
	case !edges:
		f.Find(terms.FoundNoEdges, "", "measure the supply at the pickup. Then record while cranking",
			"no channel changes. The pickups have no supply, the probes are off, or the engine stood still")
		return
	case a.Crank < 0 && t.dead() >= 0:
		p := t.profiles[t.dead()]
		f.Find(terms.FoundNoCrank, p.Name, "measure the supply at the pickup. Look at its cable. Then record again",
			"no crank signal was found. The channel %s is called so. It is no signal: %s", p.Name, p.Reason)
		return
	case a.Crank < 0:
		f.Find(terms.FoundNoCrank, "",
			terms.StateRole(Crank)+". Or record crank and cam pickup together while the engine turns",
			"no crank signal was found: %s", t.judge.WhyNoCrank(&a))
		return
	}
	t.checkMissing()
	t.checkSwap()
	crank := t.profiles[a.Crank]
	if !crank.GrowthKnown && crank.Named != Crank && t.facts.Roles[crank.Name] != Crank {
		f.Doubt("speed hardly changed. That %s is the crank signal rests on counts and order alone. If in "+
			"doubt, %s", crank.Name, terms.StateRole(Crank))
	}
	if a.Vanes == 0 {
		f.Find(terms.FoundVaneCount, crank.Name, "give a job card or the number of cylinders",
			"the number of vanes cannot be told. No cam or mark is there to count between. No number of "+
				"cylinders is given")
	} else if n := t.facts.Cylinders; n > 0 && n != a.Vanes {
		f.Find(terms.FoundVaneCount, crank.Name, "check the job card, the vane wheel and the probe",
			"%d crank pulses a cycle where %d cylinders need %d", a.Vanes, n, n)
	}
}

// dead is the channel that is called crank, or stated to be it, but shows no signal; −1 for none.
func (t *identified) dead() int {
	for i, p := range t.profiles {
		if !p.Usable && p.Reason != "" && (p.Named == Crank || t.facts.Roles[p.Name] == Crank) {
			return i
		}
	}
	return -1
}

// checkMissing finds that there is no cam, no spark or no mark.
func (t *identified) checkMissing() {
	f, a := &t.findings, t.assigned
	if a.Cam < 0 {
		f.Find(terms.FoundNoCam, "", "record the cam pickup too. If it is there, "+terms.StateRole(Cam),
			"no cam signal was found. Cylinder 1's compression stroke cannot be told from its exhaust stroke")
	}
	if len(a.Sparks) == 0 {
		f.Find(terms.FoundNoSpark, "", "record the coil driver, a current clamp, or a clamp on wire 1",
			"no spark signal was found. Only the pickups are judged")
	}
	if a.Mark < 0 {
		f.Find(terms.FoundNoMark, "", "record a mark sensor set at the damper's proven zero mark",
			"there is no mark once a turn at TDC. Spark angles count from the active edge. Absolute timing is "+
				"not known")
	}
}

func (t *identified) known(name string) bool {
	for _, p := range t.profiles {
		if p.Name == name {
			return true
		}
	}
	return false
}

func (t *identified) names() string {
	var names []string
	for i, p := range t.profiles {
		if i == 12 {
			names = append(names, "…")
			break
		}
		names = append(names, p.Name)
	}
	return strings.Join(names, ", ")
}

// checkSwap finds exchanged cables of crank and cam: the channel that is called or stated to be the cam gives many
// pulses for one of the other.
func (t *identified) checkSwap() {
	a := t.assigned
	if a.Cam < 0 {
		return
	}
	crank, cam := t.profiles[a.Crank], t.profiles[a.Cam]
	forth, _ := t.judge.PulsesBetween(a.Crank, a.Cam)
	back, share := t.judge.PulsesBetween(a.Cam, a.Crank)
	found := func(many, one string, n int) {
		t.findings.Find(terms.FoundSwapped, crank.Name, "exchange the two cables at the controller, or the two probes",
			"crank and cam look swapped. %s gives %d pulses for one of %s. A controller finds no sync that way",
			many, n, one)
	}
	stated := t.facts.Roles[crank.Name] == Crank || t.facts.Roles[cam.Name] == Cam
	switch {
	case stated && forth <= 1 && back >= 2 && share > 0.7:
		found(cam.Name, crank.Name, back)
		t.assigned.Vanes = 0
	case crank.Named == Cam && cam.Named == Crank:
		found(crank.Name, cam.Name, forth)
	}
}
