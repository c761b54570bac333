package suspects

// AsWeighed is the first line of the ranking with the odds as they come out, before they are raised to a power.
func (e *Engine) AsWeighed(ev *Evidence) (Suspect, error) {
	items, err := e.items(ev, mostLooks)
	if err != nil {
		return Suspect{}, err
	}
	w := e.weigh(items, ev.WorkedOn, ev.Engine.Misfire)
	w.said = w.parts()
	first := w.entries()[0]
	if w.none > first.sum() {
		return Suspect{Name: NoneOfThese, Probability: w.none}, nil
	}
	sound := w.look(w.sound)
	return w.suspect(&first, &sound), nil
}
