package web_test

import (
	"fmt"
	"strings"
	"testing"

	"github.com/chromedp/chromedp"
	"github.com/chromedp/chromedp/kb"

	"phasewright/book"
	"phasewright/web"
	"phasewright/web/shelf"
	"phasewright/web/webtest"
)

// From a card in the hand to a signed proof, by clicks and keys alone, on a phone, against the real server and book.
func TestWholeJobOnAPhone(t *testing.T) {
	s := webtest.NewShop(t, func(c *web.Config) {
		c.Templates = []shelf.Template{{ID: "mill-pump", Name: "Mill pump", About: "invented", YAML: webtest.Example(t, "mill-pump")}, {ID: "sandpiper", Name: "Sandpiper", About: "invented", YAML: webtest.Example(t, "sandpiper")}}
	})
	base, _ := s.Listen()
	p := s.Screen(webtest.Browser(t), base, 360, 740)
	p.Open("/")
	if !strings.Contains(p.Text("main"), "The shop book is empty") {
		t.Error("the empty book teaches nothing: " + p.Text("main"))
	}
	p.Click(`a[href="/new"]`)
	p.Wait(`document.querySelector("h1").innerText == "New job"`)
	p.Click("button.primary")
	p.Wait(`document.querySelector("#name-said")?.innerText.trim()`) // a job without a name is refused, with the reason beside the field
	p.TypeIn("#name", "Sandpiper, main engine")
	p.Click(`label:has(input[value="template-sandpiper"])`)
	p.Click("button.primary")
	p.Wait(`document.querySelector("#next")?.innerText.includes("Read the sheet")`)

	p.Click(`nav a[href$="/card"]`)
	p.Wait(`document.querySelector("h1").innerText == "Job card"`)
	bore := `[id="card.engine.bore"]`
	p.Wait(`document.readyState == "complete" && document.querySelector('` + bore + `') != null`) // the page before may still be leaving
	p.Do(chromedp.Clear(chromedp.CSS(bore)))
	p.TypeIn(bore, "98.4 kg")
	p.Click("button[data-save]")
	p.Wait(`document.readyState == "complete" && document.querySelector('[id="card.engine.bore-said"] .wrong')?.innerText.includes("not one of a length")`) // the parser's own words, beside the field
	if v := webtest.Eval[string](p, `document.querySelector('`+bore+`').value`); v != "98.4 kg" {
		t.Errorf("what was typed is now %q", v)
	}
	p.Do(chromedp.Clear(chromedp.CSS(bore)))
	p.TypeIn(bore, "98,4 mm")
	p.Keys(kb.Enter) // goes to the next field
	p.Wait(`document.activeElement.id == "card.engine.stroke"`)
	p.Click("button[data-save]")
	p.Wait(`document.querySelector("h1").innerText == "Set-up sheet" && document.querySelector("#sheet svg.drawing")`)
	p.Click(`nav a[href^="/job/"]:not([href$="/card"])`)
	p.Wait(`document.querySelector("#standing")`)

	p.Click(`#standing a[href$="/sheet"]`)
	p.Wait(`document.querySelector("h1").innerText == "Set-up sheet" && document.querySelector("#sheet svg.drawing")`)
	p.Click(`nav a[href$="/readings"]`)
	p.Wait(`document.querySelector("h1").innerText == "Readings"`)

	read := func(rpm, shown string) {
		t.Helper()
		n := webtest.Eval[int](p, `document.querySelectorAll("#rows tbody tr").length`)
		p.TypeIn("#rpm", rpm)
		p.TypeIn("#shown", shown)
		p.Keys(kb.Enter)
		p.Wait(fmt.Sprintf(`document.querySelectorAll("#rows tbody tr").length == %d && document.querySelector("#shown").value == ""`, n+1))
	}
	for _, r := range [][2]string{{"800", "11.0"}, {"1500", "10,8"}, {"2200", "10.5"}, {"3000", "10.2"}, {"3700", "9.9"}, {"800", "11.1"}, {"2 200", "10.6"}, {"3700", "9.8"}} {
		read(r[0], r[1])
	}
	p.Wait(`document.querySelector("#verdict").innerText == "adjust" && document.querySelector("#next").innerText.includes("turn the housing 1")`)
	p.Click("#fix button")
	p.Wait(`document.querySelector("#verdict").innerText.includes("corrected: read again")`)
	for _, r := range [][2]string{{"800", "8.0"}, {"1500", "8.0"}, {"2200", "8.1"}, {"3000", "8"}, {"3700", "8.0"}, {"800", "8.1"}, {"2200", "8.0"}, {"3700", "8.1"}} {
		read(r[0], r[1])
	}
	p.Wait(`document.querySelector("#verdict").innerText == "pass"`)
	p.Click(`nav a[href$="/proof"]`) // the rest of the statement is open, and the next line says so
	p.Wait(`document.querySelector("h1").innerText == "Proof"`)
	p.TypeIn("#name", "A. Reed")
	p.Keys(kb.Enter)
	p.Wait(`document.querySelector("#sign")?.innerText.includes("Signed by A. Reed")`)

	if head := webtest.EvalPromise(p, `fetch(document.querySelector("a[href$='proof.pdf']").href).then(a => a.arrayBuffer()).then(b => new TextDecoder("latin1").decode(b.slice(0, 5)) + (b.byteLength > 10000))`); head != "%PDF-true" {
		t.Errorf("the proof's file begins %q", head)
	}

	found, err := s.Book.Jobs(t.Context(), book.Query{})
	if err != nil || len(found.Jobs) != 1 {
		t.Fatal(found, err)
	}
	j, err := s.Shelf.Job(t.Context(), found.Jobs[0].ID)
	if err != nil || j.Card == nil || j.Card.Engine.Bore != 98.4 {
		t.Errorf("the card is now %+v, %v", j.Card, err)
	}
	webtest.WantPDFText(t, "proof.pdf", s.Get(webtest.Eval[string](p, `document.querySelector("a[href$='proof.pdf']").getAttribute("href")`)).Body.Bytes(), "A. Reed")
	kinds := s.Kinds(found.Jobs[0].ID)
	if len(kinds) != 3+8+1+8+1 || kinds[len(kinds)-1] != book.KindProofSigned {
		t.Errorf("the book holds %v", kinds)
	}
	if found.Jobs[0].Status == "" || !strings.Contains(found.Jobs[0].Status, "brought") {
		t.Errorf("the book calls it %q", found.Jobs[0].Status)
	}
	for _, c := range p.Complaints() {
		t.Error("console: " + c)
	}
}

// Without script every form still works.
func TestWholeJobWithoutScript(t *testing.T) {
	s := webtest.NewShop(t)
	base, _ := s.Listen()
	p := s.Screen(webtest.Browser(t), base, 360, 740)
	p.NoScript()
	job := s.NewJob()
	p.Open("/job/" + job + "/readings")
	p.TypeIn("#rpm", "800")
	p.TypeIn("#shown", "nine")
	p.Click("form[data-queue] button")
	p.WaitSource(`"nine" is not a number`)
	p.Do(chromedp.Clear(chromedp.CSS("#shown")))
	p.TypeIn("#shown", "9")
	p.Click("form[data-queue] button")
	p.WaitSource(`<td>9.0</td>`)
	if k := s.Kinds(job); len(k) != 3 || k[2] != book.KindReadingAdded {
		t.Errorf("events %v", k)
	}
	p.Click(`button[name=look][value=night]`)
	p.WaitSource(`data-look="night"`)
}

// A phone and a laptop on one job see each other's readings, corrections and notes.
func TestTwoScreensSeeEachOther(t *testing.T) {
	s := webtest.NewShop(t)
	base, _ := s.Listen()
	b := webtest.Browser(t)
	job := s.NewJob()
	phone, laptop := s.Screen(b, base, 360, 740), s.Screen(b, base, 1280, 800)
	phone.Open("/job/" + job + "/readings")
	laptop.Open("/job/" + job + "/readings")
	laptop.TypeIn("#rpm", "1500") // half an entry, which another's reading must not take away
	phone.TypeIn("#rpm", "800")
	phone.TypeIn("#shown", "9.1")
	phone.Keys(kb.Enter)
	laptop.Wait(`document.querySelector("#rows").innerText.includes("9.1")`)
	if v := webtest.Eval[string](laptop, `document.querySelector("#rpm").value`); v != "1500" {
		t.Errorf("the laptop's half entry is now %q", v)
	}
	laptop.TypeIn("#shown", "8.9")
	laptop.Keys(kb.Enter)
	phone.Wait(`document.querySelector("#rows").innerText.includes("8.9") && document.querySelectorAll("#rows tbody tr").length == 2`)
	phone.Wait(`document.querySelectorAll("#chart .phone-only svg .points > *").length > 0`)
	for _, c := range append(phone.Complaints(), laptop.Complaints()...) {
		t.Error("console: " + c)
	}
}

// Entries made while the line is lost are kept on the phone and sent once when it returns, in their order.
func TestLostLineLosesAndDoublesNothing(t *testing.T) {
	s := webtest.NewShop(t)
	base, line := s.Listen()
	p := s.Screen(webtest.Browser(t), base, 360, 740)
	job := s.NewJob()
	p.Open("/job/" + job + "/readings")
	p.Wait(`document.documentElement.dataset.script == "on"`)
	line.Set(true)
	p.Wait(`!document.querySelector("#line").hidden && document.querySelector("#line").innerText.includes("kept on this device")`)
	for _, r := range [][2]string{{"800", "9.1"}, {"1500", "9.2"}, {"2200", "9.3"}} {
		p.TypeIn("#rpm", r[0])
		p.TypeIn("#shown", r[1])
		p.Keys(kb.Enter)
		p.Wait(fmt.Sprintf(`document.querySelector("#waiting-list").innerText.includes("%s rpm") && document.querySelector("#shown").value == ""`, r[0]))
	}
	if n := len(s.Kinds(job)); n != 2 {
		t.Fatalf("%d events while the line was cut", n)
	}
	line.Set(false)
	p.Wait(`!document.querySelector("#waiting-list li") && document.querySelector("#line").hidden && document.querySelectorAll("#rows tbody tr").length == 3`)
	j, err := s.Shelf.Job(t.Context(), job)
	if err != nil {
		t.Fatal(err)
	}
	var got []float64
	for _, r := range j.Readings {
		got = append(got, r.Shown)
	}
	if fmt.Sprint(got) != "[9.1 9.2 9.3]" {
		t.Errorf("the book holds %v, want each reading once and in order", got)
	}
	p.Open("/job/" + job + "/readings") // a page loaded anew has nothing left to send
	p.Wait(`document.querySelectorAll("#rows tbody tr").length == 3 && !document.querySelector("#waiting-list li")`)
	if n := len(s.Kinds(job)); n != 5 {
		t.Errorf("%d events, want 5", n)
	}
}

// An entry that the server refuses after the line returned is shown with what to do, not dropped.
func TestRefusedEntryIsShown(t *testing.T) {
	s := webtest.NewShop(t)
	base, line := s.Listen()
	p := s.Screen(webtest.Browser(t), base, 360, 740)
	job := s.NewJob()
	p.Open("/job/" + job + "/readings")
	p.Wait(`document.documentElement.dataset.script == "on"`)
	line.Set(true)
	p.TypeIn("#rpm", "5") // too slow for a reading: only the server can tell
	p.TypeIn("#shown", "9")
	p.Keys(kb.Enter)
	p.Wait(`document.querySelector("#waiting-list li")`)
	line.Set(false)
	p.Wait(`document.querySelector("#waiting-list").innerText.includes("too slow for a reading")`)
	p.Click("#waiting-list button:last-child")
	p.Wait(`!document.querySelector("#waiting-list li")`)
	if n := len(s.Kinds(job)); n != 2 {
		t.Errorf("%d events, want 2", n)
	}
}

// What was typed into a card is still there after the page was loaded anew, and gone once it was saved.
func TestTypedCardSurvivesAReload(t *testing.T) {
	s := webtest.NewShop(t)
	base, _ := s.Listen()
	p := s.Screen(webtest.Browser(t), base, 360, 740)
	job := s.NewJob()
	p.Open("/job/" + job + "/card")
	p.Do(chromedp.Clear(chromedp.CSS(`[name="card.engine.bore"]`)))
	p.TypeIn(`[name="card.engine.bore"]`, "99.5 mm")
	p.Open("/job/" + job + "/card")
	p.Wait(`document.querySelector('[name="card.engine.bore"]').value == "99.5 mm" && document.querySelector("form").innerText.includes("back in the form")`)
	p.Click("button[data-save]")
	p.Wait(`document.querySelector("h1").innerText == "Set-up sheet"`)
	p.Open("/job/" + job + "/card")
	p.Wait(`document.querySelector('[name="card.engine.bore"]').value == "99.5" && document.querySelector('[name="unit.engine.bore"]').value == "mm" && !document.querySelector("form").innerText.includes("back in the form")`)
	if n := len(s.Kinds(job)); n != 3 {
		t.Errorf("%d events, want 3", n)
	}
}

// A card typed while the job moved on is offered back, not lost.
func TestTypingOfBeforeIsOffered(t *testing.T) {
	s := webtest.NewShop(t)
	base, _ := s.Listen()
	p := s.Screen(webtest.Browser(t), base, 360, 740)
	job := s.NewJob()
	p.Open("/job/" + job + "/card?open=job")
	p.TypeIn(`[name="card.job.note"]`, "half a thought")
	s.Read(job, "800", "9")
	p.Open("/job/" + job + "/card")
	p.Wait(`document.querySelector("form[data-keep] [role=status] button") && document.querySelector('[name="card.job.note"]').value == ""`)
	p.Click("form[data-keep] [role=status] button")
	p.Wait(`document.querySelector('[name="card.job.note"]').value == "half a thought"`)
}

// Two pages of one phone wait with the same entry; it is recorded once.
func TestTwoPagesOfOnePhoneSendOnce(t *testing.T) {
	s := webtest.NewShop(t)
	base, line := s.Listen()
	p := s.Screen(webtest.Browser(t), base, 360, 740)
	ctx, end := chromedp.NewContext(p.Ctx) // another page in the same browser
	defer end()
	if err := chromedp.Do(ctx, chromedp.EmulateViewport(360, 740)); err != nil {
		t.Fatal(err)
	}
	twin := &webtest.Screen{T: t, Ctx: ctx, Base: base}
	job := s.NewJob()
	for _, one := range []*webtest.Screen{p, twin} {
		one.Open("/job/" + job + "/readings")
		one.Wait(`document.documentElement.dataset.script == "on"`)
	}
	line.Set(true)
	p.TypeIn("#rpm", "800")
	p.TypeIn("#shown", "9.1")
	p.Keys(kb.Enter)
	twin.Wait(`document.querySelector("#waiting-list").innerText.includes("800 rpm")`)
	line.Set(false)
	for _, one := range []*webtest.Screen{p, twin} {
		one.Wait(`!document.querySelector("#waiting-list li") && document.querySelectorAll("#rows tbody tr").length == 1`)
	}
	if n := len(s.Kinds(job)); n != 3 {
		t.Errorf("%d events, want 3", n)
	}
}
