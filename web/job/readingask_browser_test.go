package job_test

import (
	"os"
	"testing"

	"github.com/chromedp/chromedp"

	"phasewright/web/webtest"
)

// The question on a phone: asked beside the field, answered with one tap; mended instead, it goes away.
func TestQuestionIsAnsweredWithOneTap(t *testing.T) {
	s := webtest.NewShop(t)
	job := s.NewJob()
	s.Read(job, "800", "8")
	base, _ := s.Listen()
	p := s.Screen(webtest.Browser(t), base, 360, 740)
	p.Open("/job/" + job + "/readings")
	p.Wait(`document.documentElement.dataset.script == "on" && document.querySelector("[data-ask]").hidden`)
	p.TypeIn("#rpm", "820")
	p.TypeIn("#shown", "14")
	p.Click("form[data-queue] button.primary")
	p.Wait(`!document.querySelector("[data-ask]").hidden && document.querySelector("#shown-said").innerText.includes("away from row 1")`)
	if folder := os.Getenv("PHASEWRIGHT_LOOK"); folder != "" {
		png, err := chromedp.Run(p.Ctx, chromedp.FullScreenshot(100))
		if err != nil || os.WriteFile(folder+"/asked.png", png, 0o600) != nil {
			t.Fatal(err)
		}
	}
	p.Click("[data-ask]")
	p.Wait(`document.querySelector("#shown").value == "" && document.querySelector("[data-ask]").hidden && document.querySelector("#rows").innerText.includes("14.0")`)
	p.TypeIn("#rpm", "20000")
	p.TypeIn("#shown", "8")
	p.Click("form[data-queue] button.primary")
	p.Wait(`!document.querySelector("[data-ask]").hidden && document.querySelector("#rpm-said").innerText.includes("redline")`)
	p.Do(chromedp.SetValue(chromedp.CSS("#rpm"), "2000"))
	p.Click("form[data-queue] button.primary")
	p.Wait(`document.querySelector("[data-ask]").hidden && document.querySelectorAll("#rows tbody tr").length == 3`)
	j, err := s.Shelf.Job(t.Context(), job)
	if err != nil {
		t.Fatal(err)
	}
	if all := j.Counting(); len(all) != 3 || !all[1].Confirmed || all[2].Confirmed {
		t.Errorf("readings %+v", all)
	}
	for _, c := range p.Complaints() {
		t.Error("console: " + c)
	}
}
