package job_test

import (
	"fmt"
	"strings"
	"testing"

	"github.com/chromedp/chromedp/kb"

	"phasewright/web/webtest"
)

// A step of the order of work by keyboard and ear alone: found, read, refused with the reason, ticked, and what comes
// next is heard.
func TestStepByEar(t *testing.T) {
	s := webtest.NewShop(t)
	base, _ := s.Listen()
	p := s.Screen(webtest.Browser(t), base, 1280, 800)
	p.Open("/job/" + s.NewJob() + "/steps")
	first := webtest.Eval[string](p, `document.querySelector("#step h2").textContent`)
	p.HearsOf("heading", first)
	p.TabTo("button", "Done")
	p.Keys(kb.Enter) // nothing was looked at yet
	p.HearsOf("alert", "")
	for _, h := range p.Hears() {
		if h.Role == "RootWebArea" && !strings.HasPrefix(h.Name, "Error: ") {
			t.Errorf("the page that refuses is called %q", h.Name)
		}
	}
	p.TabTo("textbox", "who is here")
	p.Keys("Ida Brandt alone")
	for _, ask := range []string{"nobody here wears", "key off", "the maker"} {
		p.TabTo("checkbox", ask)
		p.Keys(" ")
	}
	p.TabTo("textbox", "who does it")
	p.Keys("Ida Brandt")
	p.TabTo("button", "Done")
	p.Keys(kb.Enter)
	p.Wait(`document.querySelector("#step h2") && document.querySelector("#step h2").textContent != "` + first + `"`)
	p.HearsOf("heading", webtest.Eval[string](p, `document.querySelector("#step h2").textContent`))
}

// A reading by keyboard and ear alone: the fields say their units, what was read and the verdict are heard, and so is
// the finding of the chart.
func TestReadingByEar(t *testing.T) {
	s := webtest.NewShop(t)
	base, _ := s.Listen()
	p := s.Screen(webtest.Browser(t), base, 1280, 800)
	p.Open("/job/" + s.NewJob() + "/readings")
	p.Wait(`document.documentElement.dataset.script == "on"`)
	for i, r := range [][2]string{{"800", "11.0"}, {"2200", "10.5"}, {"3700", "9.9"}} {
		p.TabTo("textbox", "speed rpm")
		p.Keys(r[0])
		p.TabTo("textbox", "light shows ° BTDC")
		p.Keys(r[1] + kb.Enter)
		p.HearsOf("StaticText", fmt.Sprintf("Reading %d: ", i+1))
	}
	p.HearsOf("StaticText", " early at idle, falling to ")
}
