package job_test

import (
	"fmt"
	"os"
	"strings"
	"testing"
	"time"

	"github.com/chromedp/chromedp"
	"github.com/chromedp/chromedp/kb"

	"phasewright/book"
	"phasewright/procedure"
	"phasewright/web/webtest"
)

// keys taps keys of the page's own.
func keys(h *webtest.Thumb, names ...string) {
	h.T.Helper()
	for _, name := range names {
		h.TapInSight(fmt.Sprintf(`[data-key=%q]`, name))
	}
}

func picture(p *webtest.Screen, name string) {
	if folder := os.Getenv("PHASEWRIGHT_LOOK"); folder != "" {
		for _, look := range []string{"light", "dark"} {
			p.Scheme(look)
			if png, err := chromedp.Run(p.Ctx, chromedp.FullScreenshot(100)); err != nil || os.WriteFile(folder+"/"+name+"-"+look+".png", png, 0o600) != nil {
				p.T.Fatal(err)
			}
		}
		p.Scheme("light")
	}
}

// Readings by touch alone, in one hand: nothing is scrolled, the speed asked for is there already, and a reading takes
// at most six taps. What was added just now is taken back with one.
func TestReadingsInOneHand(t *testing.T) {
	s := webtest.NewShop(t)
	base, _ := s.Listen()
	job := s.NewJob()
	p := s.Thumb(base)
	p.Open("/job/" + job + "/readings")
	p.Wait(`document.documentElement.dataset.script == "on" && document.querySelector("#rpm").value != ""`)
	picture(p.Screen, "phone-blank")
	var asked []string
	for i, shown := range []string{"11.0", "9.9", "9.8", "11.1", "10.5"} {
		rpm := webtest.Eval[string](p.Screen, `document.querySelector("#rpm").value`)
		asked = append(asked, rpm)
		p.Taps = 0
		keys(p, strings.Split(shown, "")...)
		p.TapInSight(".pad .primary")
		if p.Taps > 6 {
			t.Errorf("%s at %s rpm took %d taps, want at most 6", shown, rpm, p.Taps)
		}
		p.Wait(fmt.Sprintf(`document.querySelectorAll("#rows tbody tr").length == %d && document.querySelector("#shown").value == "" && document.querySelector("#heard").innerText.startsWith("Reading %d: ")`, i+1, i+1))
	}
	if asked[0] != "750" || strings.Join(asked, " ") == strings.Repeat("750 ", 4)+"750" {
		t.Errorf("the speeds asked for were %v", asked)
	}
	picture(p.Screen, "phone-read")
	if y := webtest.Eval[float64](p.Screen, `scrollY`); y != 0 {
		t.Errorf("the page was scrolled by %g px", y)
	}
	if mode := webtest.Eval[string](p.Screen, `document.querySelector("#rpm").inputMode + document.querySelector("#shown").inputMode`); mode != "nonenone" {
		t.Errorf("the device's keyboard would open: %s", mode)
	}
	// taken back within ten seconds, with one tap
	if word := p.Text(`[data-key="back"]`); word != "undo 10.5" {
		t.Errorf("the key says %q", word)
	}
	keys(p, "back")
	p.Wait(`document.querySelector("#rows").innerText.includes("withdrawn: taken back at once")`)
	if k := s.Kinds(job); k[len(k)-1] != book.KindReadingWithdrawn || len(k) != 8 {
		t.Errorf("events %v", k)
	}
	p.Wait(`document.querySelector("[data-key=back]").innerText == "delete"`)
	// the other field, a light shown after TDC, and one figure taken off again
	keys(p, "other", "8", "0", "0", "0", "back", "other", "4", "after")
	if got := webtest.Eval[string](p.Screen, `document.querySelector("#rpm").value + " " + document.querySelector("#shown").value + " " + document.querySelector("[data-key=after]").ariaPressed`); got != "800 -4 true" {
		t.Errorf("the fields hold %q", got)
	}
	for _, c := range p.Complaints() {
		t.Error("console: " + c)
	}
}

// Where the order of work is begun, what it wants looked at for the speed asked for is ticked above the keys, in sight,
// afresh for each reading; six taps still do. What another speed wants waits in the fold.
func TestLooksInOneHand(t *testing.T) {
	s := webtest.NewShop(t)
	base, _ := s.Listen()
	job := s.NewJob()
	s.UpTo(job, procedure.StepIdle)
	p := s.Thumb(base)
	p.Open("/job/" + job + "/readings")
	for i, rpm := range []string{"750", "1 600"} {
		p.Wait(fmt.Sprintf(`document.documentElement.dataset.script == "on" && document.querySelector("#rpm").value.replace(/\s/, " ") == %q`, rpm))
		picture(p.Screen, fmt.Sprint("phone-looks-", i))
		p.Taps = 0
		looks := webtest.Eval[int](p.Screen, `document.querySelectorAll("#looks .choice").length`)
		if looks == 0 || webtest.Eval[int](p.Screen, `document.querySelectorAll("#looks :checked").length`) > 0 {
			t.Errorf("%d looks, some of them ticked already", looks)
		}
		for k := range looks {
			p.TapInSight(fmt.Sprintf(`#looks .choice:nth-of-type(%d) input`, k+1))
		}
		keys(p, "8", ".", "0")
		p.TapInSight(".pad .primary")
		if p.Taps > 6 {
			t.Errorf("at %s rpm it took %d taps, want at most 6", rpm, p.Taps)
		}
		p.Wait(fmt.Sprintf(`document.querySelectorAll("#rows tbody tr").length == %d`, i+1))
	}
	if j, err := s.Shelf.Job(t.Context(), job); err != nil || len(j.Brought()) != 0 || len(j.Readings) != 2 {
		t.Errorf("%d readings, %d of them brought, %v; want 2 of the order of work", len(j.Readings), len(j.Brought()), err)
	}
}

// After ten seconds the key takes nothing back any more.
func TestTakingBackEnds(t *testing.T) {
	s := webtest.NewShop(t)
	base, _ := s.Listen()
	job := s.NewJob()
	p := s.Thumb(base)
	p.Open("/job/" + job + "/readings")
	p.Wait(`document.documentElement.dataset.script == "on"`)
	keys(p, "8")
	p.TapInSight(".pad .primary")
	p.Wait(`document.querySelector("[data-key=back]").innerText == "undo 8"`)
	start := time.Now()
	p.Wait(`document.querySelector("[data-key=back]").innerText == "delete"`)
	if took := time.Since(start); took < 8*time.Second || took > 12*time.Second {
		t.Errorf("offered for %v, want about 10 s", took)
	}
	keys(p, "back")
	if k := s.Kinds(job); len(k) != 3 {
		t.Errorf("events %v", k)
	}
}

// A misread stands at the edge of the chart with its figure; the range stays that of the others.
func TestMisreadStandsAtTheEdge(t *testing.T) {
	s := webtest.NewShop(t)
	base, _ := s.Listen()
	job := s.NewJob()
	for _, r := range [][2]string{{"800", "9.1"}, {"1500", "8.9"}, {"2200", "9"}, {"3000", "8.8"}, {"3700", "8.9"}} {
		s.Read(job, r[0], r[1])
	}
	ticks := func() string {
		p := s.Screen(webtest.Browser(t), base, 360, 740)
		p.Open("/job/" + job + "/readings")
		defer picture(p, fmt.Sprintf("misread-%d", len(s.Kinds(job))))
		return webtest.Eval[string](p, `[...document.querySelectorAll("#chart .phone-only svg text")].map(e => e.textContent).filter(t => /^[-+−]?\d$/.test(t)).join(" ")`)
	}
	before := ticks()
	webtest.WantCode(t, s.Read(job, "2200", "29", "confirmed", "yes"), 303)
	if after := ticks(); after != before || after == "" {
		t.Errorf("the axis read %q, now %q", before, after)
	}
	body := webtest.HTMLText(s.Get("/job/" + job + "/readings").Body.String())
	for _, want := range []string{">+21.0°<", "Does not fit. Not used. Read 2\u202f200 rpm again.", "1 reading is not used"} {
		webtest.WantIn(t, body, want)
	}
}

// On the desk a reading is entered with the keyboard alone, wherever the focus is.
func TestReadingsByKeyboardAlone(t *testing.T) {
	s := webtest.NewShop(t)
	base, _ := s.Listen()
	job := s.NewJob()
	p := s.Screen(webtest.Browser(t), base, 1280, 800)
	p.Open("/job/" + job + "/readings")
	p.Wait(`document.documentElement.dataset.script == "on" && document.querySelector("#rpm").value == "750"`)
	if webtest.Eval[bool](p, `[...document.querySelectorAll("[data-key]")].some(k => /\d/.test(k.dataset.key) && k.checkVisibility())`) {
		t.Error("the keys of the phone stand on the desk")
	}
	for i, shown := range []string{"11.0", "9,9"} { // at the speed asked for
		p.Keys(shown + kb.Enter)
		p.Wait(fmt.Sprintf(`document.querySelectorAll("#rows tbody tr").length == %d && document.activeElement.id == "shown" && document.querySelector("#shown").value == ""`, i+1))
	}
	p.Do(chromedp.Focus(chromedp.CSS("#rpm"))) // another speed goes over the one asked for
	p.Keys("2300" + kb.Tab + "10.1" + kb.Enter)
	p.Wait(`document.querySelectorAll("#rows tbody tr").length == 3 && document.querySelector("#rows").innerText.includes("2\u202f300")`)
	picture(p, "desk")
	p.Keys("nine" + kb.Enter)
	p.Wait(`document.title.startsWith("Error: ") && document.activeElement.id == "shown"`)
	p.Keys(strings.Repeat(kb.Backspace, 4) + "9.9" + kb.Enter)
	p.Wait(`!document.title.startsWith("Error: ") && document.querySelectorAll("#rows tbody tr").length == 4`)
	if name := webtest.Eval[string](p, `["rpm", "shown"].map(id => document.getElementById(id).getAttribute("aria-labelledby").split(" ").map(i => document.getElementById(i).textContent).join(", ")).join("; ")`); name != "speed, rpm; light shows, ° BTDC" {
		t.Errorf("the fields are called %q", name)
	}
	for _, c := range p.Complaints() {
		t.Error("console: " + c)
	}
}

// Without script the page is a plain form: no keys that do nothing, the device's own keyboard for figures, and the page
// after a refusal has the focus on what was wrong.
func TestReadingsWithoutScript(t *testing.T) {
	s := webtest.NewShop(t)
	base, _ := s.Listen()
	job := s.NewJob()
	p := s.Screen(webtest.Browser(t), base, 360, 740)
	p.NoScript()
	p.Open("/job/" + job + "/readings")
	p.TypeIn("#rpm", "800")
	p.TypeIn("#shown", "nine")
	p.Keys(kb.Enter)
	p.WaitSource(`"nine" is not a number`)
	p.WaitSource(`aria-invalid="true" autofocus`)
	p.WaitSource(`<title>Error: `)
	p.WaitSource(`inputmode="decimal"`)
	picture(p, "phone-plain")
	p.Do(chromedp.Clear(chromedp.CSS("#shown")))
	p.TypeIn("#shown", "9")
	p.Keys(kb.Enter)
	p.WaitSource(`<td>9.0</td>`)
	if k := s.Kinds(job); len(k) != 3 || k[2] != book.KindReadingAdded {
		t.Errorf("events %v", k)
	}
}

// Nothing runs out of a narrow screen or of a phone on its side, whatever the readings come to.
func TestReadingsFitSmallScreens(t *testing.T) {
	s := webtest.NewShop(t)
	base, _ := s.Listen()
	blank, adjust := s.NewJob(), s.NewJob()
	for _, r := range [][2]string{{"800", "11.0"}, {"1500", "10.8"}, {"2200", "10.5"}, {"3000", "10.2"}, {"3700", "9.9"}, {"800", "11.1"}, {"3700", "9.8"}} {
		s.Read(adjust, r[0], r[1])
	}
	p := s.Screen(webtest.Browser(t), base, 360, 740)
	for _, size := range [][2]int64{{180, 740}, {740, 360}} {
		p.Do(chromedp.EmulateViewport(size[0], size[1]))
		for _, job := range []string{blank, adjust} {
			p.Open("/job/" + job + "/readings")
			p.Wait(`document.documentElement.dataset.script == "on"`)
			if out := webtest.Eval[string](p, fmt.Sprintf(`[...document.querySelectorAll("main *")].filter(e => e.getBoundingClientRect().right > %d && !e.closest(".scroll, svg, .unseen")).slice(0, 4).map(e => e.outerHTML.slice(0, 100)).join("\n")`, size[0])); out != "" {
				t.Errorf("%d px wide, beyond the screen:\n%s", size[0], out)
			}
		}
		picture(p, fmt.Sprint("small-", size[0]))
	}
}
