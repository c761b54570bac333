package web_test

import (
	"fmt"
	"net/url"
	"strings"
	"testing"

	"phasewright/procedure"
	"phasewright/web"
	"phasewright/web/shelf"
	"phasewright/web/webtest"
)

// The whole job on a phone by touch and the phone's own keyboard: every step of the order of work, the readings by the
// page's own keys, and the signature. A reading takes at most six taps beside what the order wants looked at; a step
// takes a tap for each look, what it asks to be written, and one for Done.
func TestWholeJobByTouch(t *testing.T) {
	s := webtest.NewShop(t, func(c *web.Config) {
		c.Templates = []shelf.Template{{ID: "sandpiper", Name: "Sandpiper", About: "invented", YAML: webtest.Example(t, "sandpiper")}}
	})
	base, _ := s.Listen()
	h := s.Thumb(base)
	h.Open("/")
	h.Tap(`a[href="/new"]`)
	h.Wait(`document.readyState == "complete" && document.querySelector("h1").innerText == "New job"`)
	h.Tap("#name")
	h.Types("Sandpiper")
	h.Tap(`label:has(input[value="template-sandpiper"])`)
	h.Tap("button.primary")
	h.Wait(`document.querySelector("#standing")`)
	job := strings.TrimPrefix(webtest.Eval[string](h.Screen, "location.pathname"), "/job/")

	begun := h.Taps + h.Keyed
	named, showing, steps, readings := false, false, 0, 0
	for range 80 {
		p, state := s.Ordered(job)
		id := p.Next(state).Step
		var typed map[string]string
		if showing = showing || id == procedure.StepProve; showing {
			if more, with := s.Unshown(job); more != "" {
				id, typed = more, with
			} else {
				showing = false
			}
		}
		taps := h.Taps
		form := s.Filled(job, id, typed)
		if id == procedure.StepRange {
			read(h, job, typed["rpm"], form.Get("value"))
			if n := h.Taps - taps - len(form["seen"]); n > 6 {
				t.Errorf("a reading took %d taps", n)
			}
			readings++
			continue
		}
		h.Open("/job/" + job + "/steps?step=" + url.QueryEscape(string(id)))
		h.Wait(fmt.Sprintf(`document.documentElement.dataset.script == "on" && document.querySelector("#step [name=step]")?.value == %q`, id))
		for _, look := range form["seen"] {
			h.Tap(fmt.Sprintf(`#step label:has([value=%q])`, look))
		}
		written := 1
		for _, name := range []string{"text", "value", "rpm"} {
			if !form.Has(name) || webtest.Eval[bool](h.Screen, fmt.Sprintf(`!!document.querySelector("#step #%s")?.value`, name)) {
				continue
			}
			if option := fmt.Sprintf(`#step label:has([name=text][value=%q])`, form.Get(name)); webtest.Eval[bool](h.Screen, fmt.Sprintf(`!!document.querySelector(%q)`, option)) {
				h.Tap(option)
			} else {
				h.Tap("#step #" + name)
				h.Types(form.Get(name))
			}
			written++
		}
		if !named {
			h.Tap("#step #who")
			h.Types("Ada Reed")
			named = true
			written++
		}
		version := webtest.Eval[string](h.Screen, `document.querySelector("#step [name=version]").value`)
		h.Tap("#step button.primary")
		h.Wait(fmt.Sprintf(`document.readyState == "complete" && document.querySelector("#step") && document.querySelector("#step [name=version]")?.value != %q`, version))
		if id == procedure.StepProve {
			steps++
			break
		}
		if n := h.Taps - taps; n > len(form["seen"])+written {
			t.Errorf("«%s» took %d taps for %d looks", id, n, len(form["seen"]))
		}
		steps++
	}
	t.Logf("%d steps and %d readings with %d taps and %d keys after the card", steps, readings, h.Taps, h.Keyed-begun)
	j, err := s.Shelf.Job(t.Context(), job)
	if err != nil {
		t.Fatal(err)
	}
	says, err := j.Judge()
	if err != nil {
		t.Fatal(err)
	}
	if says.Word != "pass" || steps < 25 {
		t.Errorf("after %d steps the judge says %s: %s", steps, says.Word, says.Next)
	}
	for _, c := range h.Complaints() {
		t.Error("console: " + c)
	}
}

// read enters a light reading with the page's own keys, at the speed that the page asks for or at another.
func read(h *webtest.Thumb, job, rpm, shown string) {
	h.T.Helper()
	h.Open("/job/" + job + "/readings")
	h.Wait(`document.documentElement.dataset.script == "on" && document.querySelector("#shown")`)
	for webtest.Eval[bool](h.Screen, `!!document.querySelector("#looks input:not(:checked)")`) {
		h.TapInSight(`#looks label:has(input:not(:checked))`)
	}
	if rpm != "" && webtest.Eval[string](h.Screen, `document.querySelector("#rpm").value.replace(/\D/g, "")`) != rpm {
		h.TapInSight(`[data-key="other"]`)
		ours(h, rpm)
		h.TapInSight(`[data-key="other"]`)
	}
	ours(h, shown)
	rows := webtest.Eval[int](h.Screen, `document.querySelectorAll("#rows tbody tr").length`)
	h.TapInSight(".pad .primary")
	h.Wait(fmt.Sprintf(`document.querySelectorAll("#rows tbody tr").length == %d`, rows+1))
}

// ours types on the page's own keys.
func ours(h *webtest.Thumb, figure string) {
	h.T.Helper()
	for _, key := range figure {
		h.TapInSight(fmt.Sprintf(`[data-key="%c"]`, key))
	}
}
