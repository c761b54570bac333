package job

import (
	"phasewright/procedure"
	"phasewright/suspects"
	"phasewright/web/shelf"
)

// needed are the states of the engine that a look needs, and how the plant would then stand.
var needed = []struct {
	state suspects.State
	plant func(procedure.Plant) procedure.Plant
}{
	{suspects.ByHand, func(p procedure.Plant) procedure.Plant {
		return p.With(procedure.Key, procedure.KeyOff).With(procedure.Engine, procedure.Stopped).
			With(procedure.Hands, procedure.Turning)
	}},
	{suspects.KeyOn, func(p procedure.Plant) procedure.Plant { return p.With(procedure.Key, procedure.KeyRun) }},
	{suspects.OnStarter, func(p procedure.Plant) procedure.Plant {
		return p.With(procedure.Key, procedure.KeyCrank).With(procedure.Engine, procedure.Cranking)
	}},
	{suspects.Starts, func(p procedure.Plant) procedure.Plant {
		return fuelled(p).With(procedure.Key, procedure.KeyCrank).With(procedure.Engine, procedure.Cranking)
	}},
	{suspects.Runs, running},
	{suspects.HighSpeed, running},
}

func fuelled(p procedure.Plant) procedure.Plant {
	return p.With(procedure.Injectors, procedure.Live).With(procedure.FuelLine, procedure.Full)
}

func running(p procedure.Plant) procedure.Plant {
	return fuelled(p).With(procedure.Key, procedure.KeyRun).With(procedure.Engine, procedure.Running)
}

// limits are what the plant, as the order of work left it, makes unsafe to look at: a state of the engine that would
// break a rule. A job that is not worked by the order of work has no limits that are known here.
func limits(j *shelf.Job) suspects.Limits {
	p, state, err := j.Order()
	if err != nil || len(state.Log) == 0 {
		return suspects.Limits{}
	}
	barred := map[suspects.State]string{}
	for _, n := range needed {
		then := state
		then.Plant = n.plant(state.Plant)
		if broken := p.Broken(then); len(broken) > 0 {
			barred[n.state] = broken[0].Reason
		}
	}
	return suspects.Limits{Barred: barred}
}
