package web

import (
	"testing"
	"time"

	"phasewright/bench"
)

// Pictures of the waveform at whole, middle and deep zoom, to be looked at, where SCREENS names a folder.
func TestWaveScreens(t *testing.T) {
	dir := screensFolder(t)
	s := newShop(t)
	job := s.job()
	table := s.captured(job, "first run up to the redline.csv", run{format: "csv", seconds: 20, faults: bench.Faults{Noise: 0.02}}.record(t))
	sound := s.captured(job, "through the sound card.wav", run{format: "wav", seconds: 5, rate: 100e3}.record(t))
	logic := s.captured(job, "logic.vcd", run{format: "vcd", seconds: 20, faults: bench.Faults{Crossfire: 0.2}}.record(t))
	photo := s.captured(job, "photo.jpg", []byte("\xff\xd8 no recording"))
	s.captured(job, "second run, being read.csv", run{format: "csv", seconds: 1}.record(t))
	files, err := s.book.Attachments(t.Context(), job)
	if err != nil {
		t.Fatal(err)
	}
	busy := ""
	for _, f := range files {
		if f.Name == "second run, being read.csv" {
			s.captures.now[job+f.SHA256.String()] = &task{captureState: captureState{done: 3 * f.Size / 10,
				total: f.Size, began: s.Clock().Add(-9 * time.Second)}}
			delete(s.waves.kept, f.SHA256)
			busy = "/job/" + job + "/captures/" + f.SHA256.String() + "/wave"
		}
	}
	pages := map[string]string{
		"wave-busy": busy, "wave-trouble": photo, "captures-busy": "/job/" + job + "/captures",
		"wave-whole": table, "wave-middle": table + "?from=6&to=6.5", "wave-near": table + "?at=6.1&width=60ms", "wave-deep": table + "?at=6.1004&width=400us",
		"wave-samples": table + "?at=6.1004&width=80us", "wave-wav": sound + "?at=2.5", "wave-logic-whole": logic, "wave-logic": logic + "?at=6.3", "wave-logic-dense": logic + "?from=6&to=9",
		"wave-wrong": table + "?at=77",
	}
	s.photograph(t, dir, pages, func(p *screen, name string) {
		enlivened(p, name)
		if pages[name] != busy && pages[name] != photo && name != "captures-busy" {
			p.wait(`document.querySelector("#drawing svg")`) // it may have to be read again
		}
	})
}
