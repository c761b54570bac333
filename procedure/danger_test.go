package procedure

// The predicates of this file are written apart from the rules and the steps, from the list of what keeps people whole: coil and injector power
// off before anyone turns the engine by hand; tools off the crank and plugs in before the starter turns; no cranking with live injectors until base
// timing is proven; clamp tight before any timing check; engine stopped before settings change; power-cycle and read back after. Those marked
// "more" are common practice. A wrong rule cannot hide behind them, since they read the plant by themselves.

// danger says what is unsafe in a plant; "" where nothing is.
func danger(p Plant) string {
	g := p.Get
	starter := g(Key) == KeyCrank || g(Engine) == Cranking
	turns := starter || g(Engine) == Running
	fuel := g(Injectors) == Live || g(Fuel) == Open
	power := g(Battery) == Connected
	openIgnition := g(Plug) == Out || g(Cap) == Off || g(Wires) == Off
	switch {
	case g(Hands) == Turning && g(CoilPower) == Live:
		return "coil power on while hands turn the engine"
	case g(Hands) == Turning && g(Injectors) == Live:
		return "injectors live while hands turn the engine"
	case g(Hands) == Turning && (turns || g(Key) != KeyOff):
		return "key on while hands turn the engine"
	case g(Hands) == Turning && power:
		return "battery on while hands turn the engine (more)"
	case g(Hands) == Turning && g(Box) == Charged:
		return "spark box charged while hands turn the engine"
	case g(Hands) == Turning && g(Secured) == No:
		return "vehicle not chocked while hands turn the engine"
	case g(Hands) != Clear && turns:
		return "hands in a turning engine"
	case g(Hands) == AtIgnition && (g(CoilPower) == Live || g(Box) == Charged):
		return "hands at a live or charged ignition"
	case turns && g(Tools) == OnCrank:
		return "engine turns with tools on the crank"
	case g(Tools) == OnCrank && (power || g(CoilPower) == Live || g(Injectors) == Live):
		return "tools on the crank with power about"
	case turns && g(StopTool) == InPlace:
		return "engine turns against the piston stop"
	case g(StopTool) == InPlace && (power || g(Plug) == In):
		return "piston stop in with the battery on, or with the plug in"
	case turns && g(Plug) == Out:
		return "engine turns with a plug out"
	case turns && g(Cap) == Off:
		return "engine turns without its cap (more)"
	case turns && g(Wires) == Off:
		return "engine turns without its wires (more)"
	case g(CoilPower) == Live && openIgnition && g(Distributor) != OldIn:
		return "coil power on with the ignition open (more)"
	case g(CoilPower) == Live && openIgnition:
		return "coil power on with the old ignition open (more)"
	case fuel && g(Plug) == Out:
		return "fuel on with a plug out (more)"
	case turns && g(Distributor) != NewIn:
		return "engine turns without the new unit (more)"
	case g(Key) != KeyOff && g(Distributor) == NoneIn:
		return "distributor out while the key is on (more)"
	case turns && g(Clamp) != Tight:
		return "engine turns with a loose clamp"
	case g(Check) == TimingCheck && g(Clamp) != Tight:
		return "timing check with a loose clamp"
	case turns && g(Secured) == No:
		return "engine turns, vehicle not chocked or out of gear"
	case turns && g(Fit) != Oiled:
		return "engine turns on an unchecked or dry gear (more)"
	case turns && g(Phased) == No:
		return "engine turns on a housing that was never phased (more)"
	case turns && g(Walked) == No:
		return "engine turns and nobody looked that all is clear (more)"
	case starter && g(Injectors) == Live && g(Base) == No:
		return "cranking with live injectors before base timing is proven"
	case fuel && g(Base) == No && g(Distributor) != OldIn:
		return "fuel on before base timing is proven"
	case g(Engine) == Running && g(Base) == No:
		return "running before base timing is proven"
	case turns && g(Settings) != ReadBack:
		return "engine turns on settings that were changed and not power-cycled and read back"
	case turns && g(Allowance) != AllowanceRead:
		return "engine turns on an allowance that was changed and not power-cycled and read back"
	case g(Check) == TimingCheck && (g(Zero) == No || g(Marks) == No):
		return "timing checked against a mark that is not proven"
	case g(Signed) == Yes && g(Lock) != Free:
		return "handed over with the timing locked (more)"
	case g(Signed) == Yes && g(Proven) == No:
		return "signed without a proof"
	}
	return ""
}

// atRest says what must not be once a step is over.
func atRest(p Plant) string {
	switch {
	case p.Get(Key) == KeyCrank || p.Get(Engine) == Cranking:
		return "the starter still turns"
	case p.Get(Hands) != Clear || p.Get(Check) != NoCheck:
		return "hands or a check left behind"
	case p.Get(Key) == KeyRun && p.Get(Battery) == Disconnected:
		return "key on with the battery off: whoever connects it is in for a surprise"
	case p.Get(Engine) == Running && p.Get(Key) != KeyRun:
		return "the engine runs with the key off"
	case p.Get(Engine) == Running && (p.Get(CoilPower) == Dead || p.Get(Injectors) == Dead || p.Get(Fuel) == Shut):
		return "the engine runs without spark or fuel"
	case p.Get(CoilPower) == Live && p.Get(Distributor) != OldIn && p.Get(Box) == Bled && p.Get(Walked) == Yes && boxed:
		return "a fed spark box counts as bled down"
	}
	return ""
}

// boxed says that the engine searched has a spark box.
var boxed bool

// hollow says why a step, done in this state, would prove nothing. Written from what each measurement is, not from the needs of the steps.
func hollow(p *Procedure, id StepID, before, during, after Plant) string {
	b, d := before.Get, during.Get
	_, cam := p.at[StepCam]
	_, capped := p.at[StepCapOn]
	_, shims := p.at[StepShims]
	looks := d(Hands) != Turning && d(Key) != KeyCrank
	dead := b(CoilPower) == Dead && b(Box) == Bled
	is := func(ok bool, why string) string {
		if ok {
			return ""
		}
		return why
	}
	stopped := d(Engine) == Stopped
	switch id {
	case StepSecure:
		return is(b(Plan) == Yes && stopped, "begun without a plan, or on a turning engine")
	case StepBatteryOff, StepFuelOff, StepCoilOff:
		return is(stopped && (id == StepBatteryOff || b(Key) == KeyOff) && (id != StepBatteryOff || b(Secured) == Yes), "made safe out of order")
	case StepBleed:
		return is(b(CoilPower) == Dead && b(Key) == KeyOff, "bled down while it is fed")
	case StepNoted:
		return is(b(Distributor) == OldIn && b(Secured) == Yes, "the old unit is not there to be recorded")
	case StepPlugOut:
		return is(dead && b(Injectors) == Dead && stopped && b(Key) == KeyOff && d(Hands) == AtIgnition, "plug taken out of a live engine")
	case StepToolsOn:
		return is(b(Plug) == Out && b(Secured) == Yes, "turned against compression, or not chocked")
	case StepStopIn:
		return is(b(Plug) == Out && b(Tools) == OnCrank, "no hole for the stop, or no bar to turn against it")
	case StepZero:
		return is(b(StopTool) == InPlace && b(Tools) == OnCrank && d(Hands) == Turning, "no stop to turn against")
	case StepStopOut:
		return is(b(StopTool) == InPlace, "no stop to take out")
	case StepMarks:
		return is(b(Zero) == Yes && b(Tools) == OnCrank && b(StopTool) == NotIn && d(Hands) == Turning, "laid out from a mark that is not proven, or the crank does not turn freely")
	case StepLead:
		return is(b(Marks) == Yes && b(Plug) == Out && b(Tools) == OnCrank && b(StopTool) == NotIn && d(Hands) == Turning, "no mark to come to, or no compression to be felt")
	case StepToolsOff:
		return is(b(Tools) == OnCrank && b(StopTool) == NotIn, "no tools to take off, or the stop is still in")
	case StepCapOff:
		return is(dead && b(Injectors) == Dead && stopped && b(Key) == KeyOff && d(Hands) == AtIgnition && after.Get(Wires) == Off, "live, or the wires still on")
	case StepOldOut, StepLift:
		w := is(dead && stopped && b(Key) == KeyOff && (!capped || b(Cap) == Off) && b(Tools) == OffCrank && d(Hands) == AtIgnition && after.Get(Clamp) == Loose, "unit lifted live, under its cap, or with tools on the crank")
		if id == StepOldOut && w == "" {
			w = is(b(Distributor) == OldIn && b(Noted) == Yes && b(Crank) == AtLead && (capped || after.Get(Wires) == Off), "old unit not recorded, or engine not at the lead")
		}
		if id == StepLift && w == "" {
			w = is(b(Distributor) == NewIn && b(Injectors) == Dead && b(Fuel) == Shut, "no new unit to lift, or fuel on")
		}
		return w
	case StepFit:
		return is(b(Distributor) == NoneIn, "the unit cannot be looked at in its hole")
	case StepShims:
		return is(b(Distributor) == NoneIn && b(Fit) == Looked, "shims laid before the gap was measured")
	case StepOil:
		return is(b(Distributor) == NoneIn && (b(Fit) == Shimmed || !shims && b(Fit) == Looked), "lubricated out of order")
	case StepDrop:
		return is(dead && b(Distributor) == NoneIn && b(Fit) == Oiled && b(Crank) == AtLead && stopped && b(Key) == KeyOff && d(Hands) == AtIgnition && after.Get(Clamp) == Finger, "dropped off the mark, dry, live or with the clamp already tight")
	case StepPowerUp:
		return is(b(Distributor) == NewIn && b(CoilPower) == Dead && b(Injectors) == Dead && b(Fuel) == Shut && b(Tools) == OffCrank && stopped, "more powered than is needed, or the engine runs")
	case StepSettings:
		return is(b(Key) == KeyRun && stopped && b(CoilPower) == Dead && b(Injectors) == Dead, "settings entered without power, or with coil or injectors live")
	case StepCycle:
		return is(b(Settings) == Stored && b(Key) == KeyRun && d(Key) == KeyOff && after.Get(Key) == KeyRun && stopped, "no power was away, or nothing was stored")
	case StepReadBack:
		return is(b(Settings) == Cycled && b(Key) == KeyRun, "read back before the power was away, or without power")
	case StepSlacken:
		return is(dead && stopped && b(Key) == KeyOff && b(Clamp) == Tight && b(Distributor) == NewIn && b(Injectors) == Dead && b(Fuel) == Shut && d(Hands) == AtIgnition, "clamp slackened on a live engine, or no tight clamp there")
	case StepPhase:
		eye := p.steps[p.at[StepPhase]].Demand.Kinds[0] == Photo
		return is(dead && b(Distributor) == NewIn && b(Clamp) == Finger && b(Crank) == AtLead && b(Found) == Yes && b(Injectors) == Dead && (eye || b(Key) == KeyRun) && b(Settings) == ReadBack && b(Tools) == OffCrank && looks && d(Check) == StandstillLook && d(Hands) == AtIgnition,
			"housing not free, engine not at the lead, or no signal to see")
	case StepCam:
		return is(b(Phased) == Yes && b(Key) == KeyRun && b(Crank) == AtLead, "no signal to see, or engine not at the lead")
	case StepClamp:
		return is(dead && b(Phased) == Yes && b(Clamp) == Finger && (!cam || b(Stroke) == Yes) && stopped && d(Hands) == AtIgnition, "locked before it was phased")
	case StepKeyOff:
		return is(stopped, "key off on a running engine: that is stopping it")
	case StepPlugIn:
		return is(dead && b(Plug) == Out && b(StopTool) == NotIn && b(Key) == KeyOff && stopped && d(Hands) == AtIgnition, "plug put into a live engine, or beside the stop")
	case StepCapOn:
		return is(dead && b(Distributor) == NewIn && b(Key) == KeyOff && stopped && d(Hands) == AtIgnition, "cap put on live, or on no unit")
	case StepWires:
		return is(dead && b(Distributor) == NewIn && (!capped || b(Cap) == On) && b(Key) == KeyOff && stopped && d(Hands) == AtIgnition, "wires put on live, or on no cap")
	case StepWalk:
		return is(b(Plug) == In && b(Cap) == On && b(Wires) == On && b(Tools) == OffCrank && b(StopTool) == NotIn && b(Clamp) == Tight && b(Distributor) == NewIn && b(Secured) == Yes && stopped, "something was still off, in or loose")
	case StepCoilOn:
		return is(b(Walked) == Yes && b(Key) == KeyOff && stopped, "coil fed before anybody looked, or with the key on")
	case StepBase:
		return is(b(Phased) == Yes && b(Settings) == ReadBack && b(Allowance) == AllowanceRead && b(CoilPower) == Live && b(Battery) == Connected && b(Injectors) == Dead && b(Fuel) == Shut && b(Walked) == Yes && d(Clamp) == Tight && d(Check) == TimingCheck && d(Engine) == Cranking && d(Key) == KeyCrank &&
			b(Key) == KeyOff && b(Engine) == Stopped && after.Get(Engine) == Stopped && after.Get(Key) == KeyOff, "the starter was not read under the conditions of the check")
	case StepFuelOn:
		return is(b(Base) == Yes && b(Walked) == Yes && b(Key) == KeyOff && stopped, "fuel before base timing")
	case StepStart:
		return is(b(Base) == Yes && b(Phased) == Yes && b(Walked) == Yes && b(Settings) == ReadBack && b(Allowance) == AllowanceRead && b(Injectors) == Live && b(Fuel) == Open && b(CoilPower) == Live && b(Battery) == Connected && b(Engine) == Stopped && b(Key) == KeyOff && d(Engine) == Cranking && d(Key) == KeyCrank,
			"cannot start, or runs already")
	case StepLock:
		return is(b(Engine) == Running, "nothing runs")
	case StepIdle:
		return is(b(Engine) == Running && b(Lock) == Locked && d(Check) == TimingCheck, "not running, not locked, or no light")
	case StepRange:
		return is(b(Engine) == Running && b(Lock) == Locked && b(Idle) == Yes && d(Check) == TimingCheck, "not running, not locked, or no light")
	case StepStop:
		return is(b(Engine) == Running && after.Get(Key) == KeyOff, "nothing runs")
	case StepHousing:
		return is(dead && stopped && b(Key) == KeyOff && b(Injectors) == Dead && b(Fuel) == Shut && b(Phased) == Yes && b(Clamp) == Tight && d(Clamp) == Finger && after.Get(Clamp) == Tight && after.Get(Base) == No && d(Hands) == AtIgnition, "turned live, from an unknown place, or base timing still counts")
	case StepAllowance:
		return is(stopped && b(Key) == KeyOff && d(Key) == KeyRun && b(Walked) == Yes && after.Get(Idle) == No && after.Get(Key) == KeyOff, "set without power, or the readings before it still count")
	case StepAllowanceCycle:
		return is(stopped && b(Allowance) == AllowanceStored && b(Key) == KeyOff && d(Key) == KeyRun && after.Get(Key) == KeyOff && b(Walked) == Yes, "nothing stored, or the power was not away")
	case StepAllowanceRead:
		return is(stopped && b(Allowance) == AllowanceCycled && b(Key) == KeyOff && d(Key) == KeyRun && after.Get(Key) == KeyOff && b(Walked) == Yes, "read back before the power was away")
	case StepProve:
		return is(b(Idle) == Yes && b(Range) == Yes, "no readings to prove it by")
	case StepUnlock:
		return is(b(Engine) == Running && b(Proven) == Yes && after.Get(Lock) == Free, "nothing runs, or nothing is proven")
	case StepShutDown:
		return is(b(Proven) == Yes && b(Lock) == Free && after.Get(Engine) == Stopped && after.Get(Key) == KeyOff, "not proven, or still locked")
	case StepSignOff:
		return is(b(Proven) == Yes && b(Lock) == Free && stopped, "not proven, still locked or running")
	case StepRecord:
		return is(b(Signed) == Yes, "nothing signed")
	case StepPlan:
		return ""
	}
	return "the test does not know this step"
}
