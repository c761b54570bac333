package recording_test

import (
	"testing"
	"time"

	"phasewright/bench"
	"phasewright/web/webtest"
)

// Pictures of the waveform at whole, middle and deep zoom, to be looked at, where SCREENS names a folder.
func TestWaveScreens(t *testing.T) {
	dir := webtest.ScreensFolder(t)
	s := webtest.NewShop(t)
	job := s.NewJob()
	table := captured(s, job, "first run up to the redline.csv", webtest.Run{Format: "csv", Seconds: 20, Faults: bench.Faults{Noise: 0.02}}.Record(t))
	sound := captured(s, job, "through the sound card.wav", webtest.Run{Format: "wav", Seconds: 5, Rate: 100e3}.Record(t))
	logic := captured(s, job, "logic.vcd", webtest.Run{Format: "vcd", Seconds: 20, Faults: bench.Faults{Crossfire: 0.2}}.Record(t))
	photo := captured(s, job, "photo.jpg", []byte("\xff\xd8 no recording"))
	captured(s, job, "second run, being read.csv", webtest.Run{Format: "csv", Seconds: 1}.Record(t))
	files, err := s.Book.Attachments(t.Context(), job)
	if err != nil {
		t.Fatal(err)
	}
	busy := ""
	for _, f := range files {
		if f.Name == "second run, being read.csv" {
			s.Recording.Pretend(job, f, 3*f.Size/10, time.Now().Add(-9*time.Second))
			busy = "/job/" + job + "/captures/" + f.SHA256.String() + "/wave"
		}
	}
	pages := map[string]string{
		"wave-busy": busy, "wave-trouble": photo, "captures-busy": "/job/" + job + "/captures",
		"wave-whole": table, "wave-middle": table + "?from=6&to=6.5", "wave-near": table + "?at=6.1&width=60ms", "wave-deep": table + "?at=6.1004&width=400us",
		"wave-samples": table + "?at=6.1004&width=80us", "wave-wav": sound + "?at=2.5", "wave-logic-whole": logic, "wave-logic": logic + "?at=6.3", "wave-logic-dense": logic + "?from=6&to=9",
		"wave-wrong": table + "?at=77",
	}
	s.Photograph(t, dir, pages, func(p *webtest.Screen, name string) {
		webtest.Enlivened(p, name)
		if pages[name] != busy && pages[name] != photo && name != "captures-busy" {
			p.Wait(`document.querySelector("#drawing svg")`) // it may have to be read again
		}
	})
}
