package procedure

// stale says which evidence still counts that must not: written from what each piece of evidence rests on, not from the table of what follows.
// by is the step done (or taken back); states are those before, while and after.
func stale(p *Procedure, by StepID, before, during, after Plant) string {
	b, d, a := before.Get, during.Get, after.Get
	_, cam := p.at[StepCam]
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
	case loosened && by != StepHousing && a(Phased) == Yes:
		return "housing counts as phased with the clamp loosened since"
	case loosened && (a(Base) == Yes && by != StepBase || a(Walked) == Yes):
		return "clamp loosened, and the check before it still counts"
	case b(Clamp) == Finger && a(Clamp) == Loose && a(Phased) == Yes:
		return "unit free to lift, and its housing counts as phased"
	case b(Distributor) == NewIn && a(Distributor) != NewIn && (a(Phased) == Yes || a(Fit) != NotLooked || a(Stroke) == Yes):
		return "unit lifted, and fit or phase still count"
	case a(Distributor) == NoneIn && a(Clamp) != Loose:
		return "a clamp on an empty hole"
	case turned && a(Crank) == AtLead && by != StepLead:
		return "the crank has turned and counts as at the lead"
	case by == StepLead && d(Hands) == Turning && (a(Phased) == Yes || a(Stroke) == Yes):
		return "the engine was brought to the lead anew, and the edge found before still counts"
	case boxed && d(CoilPower) == Live && d(Box) == Bled || boxed && a(CoilPower) == Live && a(Box) == Bled:
		return "a fed spark box counts as bled down"
	case b(Lock) == Locked && b(Key) != KeyOff && (d(Key) == KeyOff || a(Key) == KeyOff) && a(Lock) == Locked:
		return "the key was off, and the timing counts as locked"
	case b(Allowance) == AllowanceRead && a(Allowance) != AllowanceRead && a(Idle) == Yes:
		return "allowance changed, and the readings before it still count"
	}
	switch by { // the doing of the step itself
	case StepHousing:
		if a(Phased) != Yes {
			return "a measured turn loses the edge"
		}
	case StepSlacken:
		if a(Clamp) != Finger {
			return "the clamp is not slack"
		}
	case StepLift:
		if a(Distributor) != NoneIn {
			return "the unit is not out"
		}
	}
	return ""
}

// returned says what must be after a step was taken back; "" where it is so.
func returned(p *Procedure, id StepID, before, after Plant) string {
	a := after.Get
	_, shims := p.at[StepShims]
	_, capped := p.at[StepCapOff]
	dry := Looked
	if shims {
		dry = Shimmed
	}
	wires := a(Wires) == On || capped
	ok := true
	switch id {
	case StepSecure:
		ok = a(Secured) == No
	case StepBatteryOff:
		ok = a(Battery) == Connected
	case StepFuelOff:
		ok = a(Injectors) == Live && a(Fuel) == Open
	case StepFuelOn:
		ok = a(Injectors) == Dead && a(Fuel) == Shut
	case StepCoilOff:
		ok = a(CoilPower) == Live
	case StepCoilOn:
		ok = a(CoilPower) == Dead
	case StepBleed:
		ok = a(Box) == Charged
	case StepPlugOut:
		ok = a(Plug) == In
	case StepPlugIn:
		ok = a(Plug) == Out
	case StepToolsOn:
		ok = a(Tools) == OffCrank
	case StepToolsOff:
		ok = a(Tools) == OnCrank
	case StepStopIn:
		ok = a(StopTool) == NotIn
	case StepStopOut:
		ok = a(StopTool) == InPlace
	case StepLead:
		ok = a(Found) == No && a(Crank) == Anywhere
	case StepCapOff:
		ok = a(Cap) == On && a(Wires) == On
	case StepCapOn:
		ok = a(Cap) == Off
	case StepWires:
		ok = a(Wires) == Off
	case StepOldOut:
		ok = a(Distributor) == OldIn && a(Clamp) == Tight && wires
	case StepDrop:
		ok = a(Distributor) == NoneIn && a(Clamp) == Loose
	case StepLift:
		ok = a(Distributor) == NewIn && a(Clamp) == Finger
	case StepFit:
		ok = a(Fit) == NotLooked
	case StepShims:
		ok = a(Fit) == Looked
	case StepOil:
		ok = a(Fit) == dry
	case StepPowerUp:
		ok = a(Key) == KeyOff && a(Battery) == Disconnected
	case StepSettings:
		ok = a(Settings) == Changed
	case StepCycle:
		ok = a(Settings) == Stored
	case StepReadBack:
		ok = a(Settings) == Cycled
	case StepSlacken:
		ok = a(Clamp) == Tight
	case StepClamp:
		ok = a(Clamp) == Finger
	case StepStart:
		ok = a(Engine) == Stopped && a(Key) == KeyOff
	case StepLock:
		ok = a(Lock) == Free && a(Idle) == No
	case StepUnlock:
		ok = a(Lock) == LockUnknown
	case StepAllowance:
		ok = a(Allowance) == AllowanceStored // whatever it was before is no longer known
	case StepAllowanceCycle:
		ok = a(Allowance) == AllowanceStored
	case StepAllowanceRead:
		ok = a(Allowance) == AllowanceCycled
	case StepKeyOff, StepStop, StepShutDown:
		ok = after == before // a tick only: the key stays off
	default: // evidence
		st := p.steps[p.at[id]]
		ok = a(st.After[0].Part) == No
	}
	if !ok {
		return "taking «" + string(id) + "» back leaves the wrong plant"
	}
	return ""
}
