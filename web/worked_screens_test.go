package web_test

import (
	"bytes"
	"encoding/json"
	"os"
	"path/filepath"
	"testing"

	"phasewright/book"
	"phasewright/procedure"
	"phasewright/web/webtest"
)

// Pictures of jobs that are worked by the order, and their papers as PDF: one begun, one before its proof with another
// wire read and a recording, one done to the end, and one that is not begun with a reading that is asked back.
func TestWorkedScreens(t *testing.T) {
	dir := webtest.ScreensFolder(t)
	s := webtest.NewShop(t)
	begun := s.NewJob()
	s.UpTo(begun, procedure.StepPhase)

	wires := s.NewJob()
	s.UpTo(wires, procedure.StepProve)
	s.Step(wires)
	run := bytes.NewReader(webtest.Recording(t))
	s.Do(webtest.Upload("/job/"+wires+"/captures", webtest.HostAddr, "up to the redline.vcd", run))
	s.Settle()
	files, err := s.Book.Attachments(t.Context(), wires)
	if err != nil {
		t.Fatal(err)
	}

	done := s.NewJob()
	s.UpTo(done, "") // nothing is next

	asked := s.NewJob()
	for _, r := range [][2]string{{"800", "8.2"}, {"1500", "8.1"}, {"2200", "8.2"}, {"3000", "81"}} {
		s.Read(asked, r[0], r[1])
	}
	s.Read(asked, "2200", "8.3", "wire", "6")
	if _, err := s.Book.Append(t.Context(), asked, book.AnyVersion, book.Draft{Who: "Ada Reed",
		Kind: book.KindReadingAdded, Payload: json.RawMessage(
			`{"id":"old","rpm":20000,"shown_deg":8,"locked_deg":8,"allowance_us":85}`)}); err != nil {
		t.Fatal(err)
	}

	capture := "/captures/" + files[0].SHA256.String()
	for _, paper := range []struct{ name, path string }{
		{"proof-begun", begun + "/proof.pdf"}, {"proof-done", done + "/proof.pdf"}, {"proof-asked", asked + "/proof.pdf"},
		{"steps", wires + "/steps.pdf"}, {"sheet", wires + "/sheet.pdf"}, {"recording", wires + capture + "/recording.pdf"},
	} {
		w := s.Get("/job/" + paper.path)
		webtest.WantCode(t, w, 200)
		if err := os.WriteFile(filepath.Join(dir, paper.name+".pdf"), w.Body.Bytes(), 0o644); err != nil {
			t.Fatal(err)
		}
	}

	pages := map[string]string{
		"wires-other": "/job/" + wires + "/steps?step=" + string(procedure.StepOther),
		"wires-sheet": "/job/" + wires + "/sheet", "wires-captures": "/job/" + wires + "/captures",
		"wires-capture": "/job/" + wires + capture,
	}
	for name, job := range map[string]string{"begun": begun, "wires": wires, "done": done, "asked": asked} {
		pages[name+"-job"] = "/job/" + job
		for _, view := range []string{"steps", "readings", "proof"} {
			pages[name+"-"+view] = "/job/" + job + "/" + view
		}
	}
	s.Photograph(t, dir, pages, webtest.Enlivened)
}
