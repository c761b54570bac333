package web

import (
	"fmt"
	"strings"
	"testing"

	"github.com/chromedp/chromedp"
	"github.com/chromedp/chromedp/kb"

	"phasewright/book"
)

// From a card in the hand to a signed proof, by clicks and keys alone, on a phone, against the real server and book.
func TestWholeJobOnAPhone(t *testing.T) {
	s := newShop(t, func(c *Config) {
		c.Templates = []Template{{"mill-pump", "Mill pump", "invented", example(t, "mill-pump")}, {"sandpiper", "Sandpiper", "invented", example(t, "sandpiper")}}
	})
	base, _ := s.serve()
	p := s.screen(browser(t), base, 360, 740)
	p.open("/")
	if !strings.Contains(p.text("main"), "The shop book is empty") {
		t.Error("the empty book teaches nothing: " + p.text("main"))
	}
	p.click(`a[href="/new"]`)
	p.wait(`document.querySelector("h1").innerText == "New job"`)
	p.click("button.primary")
	p.wait(`document.querySelector("#name-said")?.innerText.trim()`) // a job without a name is refused, with the reason beside the field
	p.typeIn("#name", "Sandpiper, main engine")
	p.click(`label:has(input[value="template-sandpiper"])`)
	p.click("button.primary")
	p.wait(`document.querySelector("#next")?.innerText.includes("Read the set-up sheet")`)

	p.click(`nav a[href$="/card"]`)
	p.wait(`document.querySelector("h1").innerText == "Job card"`)
	bore := `[id="card.engine.bore"]`
	p.do(chromedp.Clear(chromedp.CSS(bore)))
	p.typeIn(bore, "98.4 kg")
	p.click("button[data-save]")
	p.wait(`document.querySelector('[id="card.engine.bore-said"] .wrong')?.innerText.includes("not one of a length")`) // the parser's own words, beside the field
	if v := eval[string](p, `document.querySelector('`+bore+`').value`); v != "98.4 kg" {
		t.Errorf("what was typed is now %q", v)
	}
	p.do(chromedp.Clear(chromedp.CSS(bore)))
	p.typeIn(bore, "98,4 mm")
	p.keys(kb.Enter)
	p.wait(`document.querySelector("h1").innerText == "Set-up sheet" && document.querySelector("#sheet svg.drawing")`)
	p.click(`nav a[href^="/job/"]:not([href$="/card"])`)
	p.wait(`document.querySelector("#standing")`)

	p.click(`#standing a[href$="/sheet"]`)
	p.wait(`document.querySelector("h1").innerText == "Set-up sheet" && document.querySelector("#sheet svg.drawing")`)
	p.click(`nav a[href$="/readings"]`)
	p.wait(`document.querySelector("h1").innerText == "Readings"`)

	read := func(rpm, shown string) {
		t.Helper()
		n := eval[int](p, `document.querySelectorAll("#rows tbody tr").length`)
		p.typeIn("#rpm", rpm)
		p.typeIn("#shown", shown)
		p.keys(kb.Enter)
		p.wait(fmt.Sprintf(`document.querySelectorAll("#rows tbody tr").length == %d && document.querySelector("#rpm").value == ""`, n+1))
	}
	for _, r := range [][2]string{{"800", "11.0"}, {"1500", "10,8"}, {"2200", "10.5"}, {"3000", "10.2"}, {"3700", "9.9"}, {"800", "11.1"}, {"2 200", "10.6"}, {"3700", "9.8"}} {
		read(r[0], r[1])
	}
	p.wait(`document.querySelector("#verdict").innerText == "adjust" && document.querySelector("#next").innerText.includes("turn the housing 1")`)
	p.click("#fix button")
	p.wait(`document.querySelector("#verdict").innerText.includes("corrected: read again")`)
	for _, r := range [][2]string{{"800", "8.0"}, {"1500", "8.0"}, {"2200", "8.1"}, {"3000", "8"}, {"3700", "8.0"}, {"800", "8.1"}, {"2200", "8.0"}, {"3700", "8.1"}} {
		read(r[0], r[1])
	}
	p.wait(`document.querySelector("#verdict").innerText == "pass"`)
	p.click(`#next a[href$="/proof"]`)
	p.wait(`document.querySelector("h1").innerText == "Proof"`)
	p.typeIn("#name", "A. Reed")
	p.keys(kb.Enter)
	p.wait(`document.querySelector("#sign")?.innerText.includes("Signed by A. Reed")`)

	if head := evalPromise(p, `fetch(document.querySelector("a[href$='proof.pdf']").href).then(a => a.arrayBuffer()).then(b => new TextDecoder("latin1").decode(b.slice(0, 5)) + (b.byteLength > 10000))`); head != "%PDF-true" {
		t.Errorf("the proof's file begins %q", head)
	}

	found, err := s.book.Jobs(t.Context(), book.Query{})
	if err != nil || len(found.Jobs) != 1 {
		t.Fatal(found, err)
	}
	j, err := s.jobs.get(t.Context(), found.Jobs[0].ID)
	if err != nil || j.Card == nil || j.Card.Engine.Bore != 98.4 {
		t.Errorf("the card is now %+v, %v", j.Card, err)
	}
	wantPDFText(t, "proof.pdf", s.get(eval[string](p, `document.querySelector("a[href$='proof.pdf']").getAttribute("href")`)).Body.Bytes(), "A. Reed")
	kinds := s.kinds(found.Jobs[0].ID)
	if len(kinds) != 3+8+1+8+1 || kinds[len(kinds)-1] != book.KindProofSigned {
		t.Errorf("the book holds %v", kinds)
	}
	if found.Jobs[0].Status == "" || !strings.Contains(found.Jobs[0].Status, "pass") {
		t.Errorf("the book calls it %q", found.Jobs[0].Status)
	}
	for _, c := range p.complaints() {
		t.Error("console: " + c)
	}
}

// Without script every form still works.
func TestWholeJobWithoutScript(t *testing.T) {
	s := newShop(t)
	base, _ := s.serve()
	p := s.screen(browser(t), base, 360, 740)
	p.noScript()
	job := s.job()
	p.open("/job/" + job + "/readings")
	p.typeIn("#rpm", "800")
	p.typeIn("#shown", "nine")
	p.click("form[data-queue] button")
	p.waitSource(`"nine" is not a number`)
	p.do(chromedp.Clear(chromedp.CSS("#shown")))
	p.typeIn("#shown", "9")
	p.click("form[data-queue] button")
	p.waitSource(`<td>9.0</td>`)
	if k := s.kinds(job); len(k) != 3 || k[2] != book.KindReadingAdded {
		t.Errorf("events %v", k)
	}
	p.click(`button[name=look][value=night]`)
	p.waitSource(`data-look="night"`)
}

// A phone and a laptop on one job see each other's readings, corrections and notes.
func TestTwoScreensSeeEachOther(t *testing.T) {
	s := newShop(t)
	base, _ := s.serve()
	b := browser(t)
	job := s.job()
	phone, laptop := s.screen(b, base, 360, 740), s.screen(b, base, 1280, 800)
	phone.open("/job/" + job + "/readings")
	laptop.open("/job/" + job + "/readings")
	laptop.typeIn("#rpm", "1500") // half an entry, which another's reading must not take away
	phone.typeIn("#rpm", "800")
	phone.typeIn("#shown", "9.1")
	phone.keys(kb.Enter)
	laptop.wait(`document.querySelector("#rows").innerText.includes("9.1")`)
	if v := eval[string](laptop, `document.querySelector("#rpm").value`); v != "1500" {
		t.Errorf("the laptop's half entry is now %q", v)
	}
	laptop.typeIn("#shown", "8.9")
	laptop.keys(kb.Enter)
	phone.wait(`document.querySelector("#rows").innerText.includes("8.9") && document.querySelectorAll("#rows tbody tr").length == 2`)
	phone.wait(`document.querySelectorAll("#chart .phone-only svg .points > *").length > 0`)
	for _, c := range append(phone.complaints(), laptop.complaints()...) {
		t.Error("console: " + c)
	}
}

// Entries made while the line is lost are kept on the phone and sent once when it returns, in their order.
func TestLostLineLosesAndDoublesNothing(t *testing.T) {
	s := newShop(t)
	base, line := s.serve()
	p := s.screen(browser(t), base, 360, 740)
	job := s.job()
	p.open("/job/" + job + "/readings")
	p.wait(`document.documentElement.dataset.script == "on"`)
	line.set(true)
	p.wait(`!document.querySelector("#line").hidden && document.querySelector("#line").innerText.includes("kept on this device")`)
	for _, r := range [][2]string{{"800", "9.1"}, {"1500", "9.2"}, {"2200", "9.3"}} {
		p.typeIn("#rpm", r[0])
		p.typeIn("#shown", r[1])
		p.keys(kb.Enter)
		p.wait(fmt.Sprintf(`document.querySelector("#waiting")?.innerText.includes("rpm %s") && document.querySelector("#rpm").value == ""`, r[0]))
	}
	if n := len(s.kinds(job)); n != 2 {
		t.Fatalf("%d events while the line was cut", n)
	}
	line.set(false)
	p.wait(`!document.querySelector("#waiting") && document.querySelector("#line").hidden && document.querySelectorAll("#rows tbody tr").length == 3`)
	j, err := s.jobs.get(t.Context(), job)
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
	p.open("/job/" + job + "/readings") // a page loaded anew has nothing left to send
	p.wait(`document.querySelectorAll("#rows tbody tr").length == 3 && !document.querySelector("#waiting")`)
	if n := len(s.kinds(job)); n != 5 {
		t.Errorf("%d events, want 5", n)
	}
}

// An entry that the server refuses after the line returned is shown with what to do, not dropped.
func TestRefusedEntryIsShown(t *testing.T) {
	s := newShop(t)
	base, line := s.serve()
	p := s.screen(browser(t), base, 360, 740)
	job := s.job()
	p.open("/job/" + job + "/readings")
	p.wait(`document.documentElement.dataset.script == "on"`)
	line.set(true)
	p.typeIn("#rpm", "5") // too slow for a reading: only the server can tell
	p.typeIn("#shown", "9")
	p.keys(kb.Enter)
	p.wait(`document.querySelector("#waiting")`)
	line.set(false)
	p.wait(`document.querySelector("#waiting")?.innerText.includes("too slow for a reading")`)
	p.click("#waiting button:last-child")
	p.wait(`!document.querySelector("#waiting")`)
	if n := len(s.kinds(job)); n != 2 {
		t.Errorf("%d events, want 2", n)
	}
}

// What was typed into a card is still there after the page was loaded anew, and gone once it was saved.
func TestTypedCardSurvivesAReload(t *testing.T) {
	s := newShop(t)
	base, _ := s.serve()
	p := s.screen(browser(t), base, 360, 740)
	job := s.job()
	p.open("/job/" + job + "/card")
	p.do(chromedp.Clear(chromedp.CSS(`[name="card.engine.bore"]`)))
	p.typeIn(`[name="card.engine.bore"]`, "99.5 mm")
	p.open("/job/" + job + "/card")
	p.wait(`document.querySelector('[name="card.engine.bore"]').value == "99.5 mm" && document.querySelector("form").innerText.includes("back in the form")`)
	p.click("button[data-save]")
	p.wait(`document.querySelector("h1").innerText == "Set-up sheet"`)
	p.open("/job/" + job + "/card")
	p.wait(`document.querySelector('[name="card.engine.bore"]').value == "99.5 mm" && !document.querySelector("form").innerText.includes("back in the form")`)
	if n := len(s.kinds(job)); n != 3 {
		t.Errorf("%d events, want 3", n)
	}
}

// Somebody else saves the card meanwhile: the phone is told, keeps its own, and saves it when asked to.
func TestCardConflictOnAPhone(t *testing.T) {
	s := newShop(t)
	base, _ := s.serve()
	p := s.screen(browser(t), base, 360, 740)
	job := s.job()
	p.open("/job/" + job + "/card")
	p.typeIn(`[name="card.job.note"]`, "from the phone")
	s.post("/job/"+job+"/card", map[string][]string{"version": {"2"}, "yaml": {example(t, "sandpiper") + "\n"}})
	p.click("button[data-save]")
	p.wait(`document.querySelector("#next")?.innerText.includes("saved this card while you wrote") && document.querySelector('[name="card.job.note"]').value == "from the phone"`)
	p.click("button[data-save]")
	p.wait(`document.querySelector("h1").innerText == "Set-up sheet"`)
	j, err := s.jobs.get(t.Context(), job)
	if err != nil || j.Card == nil || j.Card.Job.Note != "from the phone" {
		t.Errorf("the card is now %+v, %v", j.Card, err)
	}
}

// A card typed while the job moved on is offered back, not lost.
func TestTypingOfBeforeIsOffered(t *testing.T) {
	s := newShop(t)
	base, _ := s.serve()
	p := s.screen(browser(t), base, 360, 740)
	job := s.job()
	p.open("/job/" + job + "/card")
	p.typeIn(`[name="card.job.note"]`, "half a thought")
	s.read(job, "800", "9")
	p.open("/job/" + job + "/card")
	p.wait(`document.querySelector("form[data-keep] [role=status] button") && document.querySelector('[name="card.job.note"]').value == ""`)
	p.click("form[data-keep] [role=status] button")
	p.wait(`document.querySelector('[name="card.job.note"]').value == "half a thought"`)
}

// Two pages of one phone wait with the same entry; it is recorded once.
func TestTwoPagesOfOnePhoneSendOnce(t *testing.T) {
	s := newShop(t)
	base, line := s.serve()
	p := s.screen(browser(t), base, 360, 740)
	ctx, end := chromedp.NewContext(p.ctx) // another page in the same browser
	defer end()
	if err := chromedp.Do(ctx, chromedp.EmulateViewport(360, 740)); err != nil {
		t.Fatal(err)
	}
	twin := &screen{t: t, ctx: ctx, base: base}
	job := s.job()
	for _, one := range []*screen{p, twin} {
		one.open("/job/" + job + "/readings")
		one.wait(`document.documentElement.dataset.script == "on"`)
	}
	line.set(true)
	p.typeIn("#rpm", "800")
	p.typeIn("#shown", "9.1")
	p.keys(kb.Enter)
	twin.wait(`document.querySelector("#waiting")?.innerText.includes("rpm 800")`)
	line.set(false)
	for _, one := range []*screen{p, twin} {
		one.wait(`!document.querySelector("#waiting") && document.querySelectorAll("#rows tbody tr").length == 1`)
	}
	if n := len(s.kinds(job)); n != 3 {
		t.Errorf("%d events, want 3", n)
	}
}
