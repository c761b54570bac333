package procedure

// stale says which evidence still counts that must not: written from what each piece of evidence rests on, not from the table of what follows.
// by is the step done (or taken back); states are those before, while and after.
func stale(p *Procedure, by string, before, during, after Plant) string {
	b, d, a := before.Get, during.Get, after.Get
	_, cam := p.at["cam"]
	loosened := b(Clamp) == Tight && (d(Clamp) != Tight || a(Clamp) != Tight)
	turned := d(Hands) == Turning || d(Engine) != Stopped
	// evidence that cannot stand without what it rests on, whatever happened
	for _, on := range [][2]Part{{Marks, Zero}, {Found, Marks}, {Phased, Found}, {Stroke, Found}, {Base, Phased}, {Base, Zero}, {Idle, Base}, {Range, Idle}, {Proven, Range}, {Proven, Idle}, {Signed, Proven}, {Recorded, Signed}} {
		if a(on[0]) == Yes && a(on[1]) == No {
			return Say(on[0], Yes) + ", and " + Say(on[1], No)
		}
	}
	switch {
	case a(Base) == Yes && cam && a(Stroke) == No:
		return "base timing stands on a stroke that nobody proved"
	case a(Base) == Yes && (a(Fit) != Oiled || a(Clamp) != Tight || a(Distributor) != NewIn || a(Wires) == Off || a(Settings) != ReadBack):
		return "base timing stands, and what it was read on does not"
	case a(Walked) == Yes && (a(Plug) == Out || a(Cap) == Off || a(Wires) == Off || a(Tools) == OnCrank || a(StopTool) == InPlace || a(Clamp) != Tight || a(Secured) == No):
		return "walked round before something was opened again"
	case loosened && by != "housing" && a(Phased) == Yes:
		return "housing counts as phased with the clamp loosened since"
	case loosened && (a(Base) == Yes && by != "base" || a(Walked) == Yes):
		return "clamp loosened, and the check before it still counts"
	case b(Clamp) == Finger && a(Clamp) == Loose && a(Phased) == Yes:
		return "unit free to lift, and its housing counts as phased"
	case b(Distributor) == NewIn && a(Distributor) != NewIn && (a(Phased) == Yes || a(Fit) != NotLooked || a(Stroke) == Yes):
		return "unit lifted, and fit or phase still count"
	case a(Distributor) == NoneIn && a(Clamp) != Loose:
		return "a clamp on an empty hole"
	case turned && a(Crank) == AtLead && by != "lead":
		return "the crank has turned and counts as at the lead"
	case by == "lead" && d(Hands) == Turning && (a(Phased) == Yes || a(Stroke) == Yes):
		return "the engine was brought to the lead anew, and the edge found before still counts"
	case boxed && d(CoilPower) == Live && d(Box) == Bled || boxed && a(CoilPower) == Live && a(Box) == Bled:
		return "a fed spark box counts as bled down"
	case b(Lock) == Locked && b(Key) != KeyOff && (d(Key) == KeyOff || a(Key) == KeyOff) && a(Lock) == Locked:
		return "the key was off, and the timing counts as locked"
	case b(Allowance) == AllowanceRead && a(Allowance) != AllowanceRead && a(Idle) == Yes:
		return "allowance changed, and the readings before it still count"
	}
	switch by { // the doing of the step itself
	case "housing":
		if a(Phased) != Yes {
			return "a measured turn loses the edge"
		}
	case "slacken":
		if a(Clamp) != Finger {
			return "the clamp is not slack"
		}
	case "lift":
		if a(Distributor) != NoneIn {
			return "the unit is not out"
		}
	}
	return ""
}

// returned says what must be after a step was taken back; "" where it is so.
func returned(p *Procedure, id string, before, after Plant) string {
	a := after.Get
	_, shims := p.at["shims"]
	_, capped := p.at["cap-off"]
	dry := Looked
	if shims {
		dry = Shimmed
	}
	wires := a(Wires) == On || capped
	ok := true
	switch id {
	case "secure":
		ok = a(Secured) == No
	case "battery-off":
		ok = a(Battery) == Connected
	case "fuel-off":
		ok = a(Injectors) == Live && a(Fuel) == Open
	case "fuel-on":
		ok = a(Injectors) == Dead && a(Fuel) == Shut
	case "coil-off":
		ok = a(CoilPower) == Live
	case "coil-on":
		ok = a(CoilPower) == Dead
	case "bleed":
		ok = a(Box) == Charged
	case "plug-out":
		ok = a(Plug) == In
	case "plug-in":
		ok = a(Plug) == Out
	case "tools-on":
		ok = a(Tools) == OffCrank
	case "tools-off":
		ok = a(Tools) == OnCrank
	case "stop-in":
		ok = a(StopTool) == NotIn
	case "stop-out":
		ok = a(StopTool) == InPlace
	case "lead":
		ok = a(Found) == No && a(Crank) == Anywhere
	case "cap-off":
		ok = a(Cap) == On && a(Wires) == On
	case "cap-on":
		ok = a(Cap) == Off
	case "wires":
		ok = a(Wires) == Off
	case "old-out":
		ok = a(Distributor) == OldIn && a(Clamp) == Tight && wires
	case "drop":
		ok = a(Distributor) == NoneIn && a(Clamp) == Loose
	case "lift":
		ok = a(Distributor) == NewIn && a(Clamp) == Finger
	case "fit":
		ok = a(Fit) == NotLooked
	case "shims":
		ok = a(Fit) == Looked
	case "oil":
		ok = a(Fit) == dry
	case "power-up":
		ok = a(Key) == KeyOff && a(Battery) == Disconnected
	case "settings":
		ok = a(Settings) == Changed
	case "cycle":
		ok = a(Settings) == Stored
	case "read-back":
		ok = a(Settings) == Cycled
	case "slacken":
		ok = a(Clamp) == Tight
	case "clamp":
		ok = a(Clamp) == Finger
	case "start":
		ok = a(Engine) == Stopped && a(Key) == KeyOff
	case "lock":
		ok = a(Lock) == Free && a(Idle) == No
	case "unlock":
		ok = a(Lock) == LockUnknown
	case "allowance":
		ok = a(Allowance) == AllowanceStored // whatever it was before is no longer known
	case "allowance-cycle":
		ok = a(Allowance) == AllowanceStored
	case "allowance-read":
		ok = a(Allowance) == AllowanceCycled
	case "key-off", "stop", "shut-down":
		ok = after == before // a tick only: the key stays off
	default: // evidence
		st := p.steps[p.at[id]]
		ok = a(st.After[0].Part) == No
	}
	if !ok {
		return "taking «" + id + "» back leaves the wrong plant"
	}
	return ""
}
