package recording_test

import (
	"testing"
	"time"

	"github.com/chromedp/chromedp"

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

// On a phone on its side the page opens with two lanes in sight, and the drawing's words are no smaller than on the
// phone upright; on a tablet and on the desk neither.
func TestWaveformOnAPhoneOnItsSide(t *testing.T) {
	s := webtest.NewShop(t)
	path := captured(s, s.NewJob(), "first run.csv", webtest.Run{Format: "csv", Seconds: 5}.Record(t))
	base, _ := s.Listen()
	p := s.Screen(webtest.Browser(t), base, 360, 740)
	scale := func(width, height int64) float64 {
		p.Do(chromedp.EmulateViewport(width, height))
		p.Open(path)
		p.Wait(`document.querySelector("#drawing svg") && document.fonts.status == "loaded"`)
		return webtest.Eval[float64](p, `(() => { const s = [...document.querySelectorAll("#drawing svg")].find(e => e.getBoundingClientRect().width); return s.getBoundingClientRect().width / s.viewBox.baseVal.width })()`)
	}
	upright := scale(360, 740)
	for _, size := range [][2]int64{{740, 360}, {820, 1180}, {1024, 768}, {1280, 800}} {
		if k := scale(size[0], size[1]); k < upright {
			t.Errorf("%d × %d: %.2f px a mm, on the phone %.2f", size[0], size[1], k, upright)
		}
	}
	scale(740, 360)
	if n := webtest.Eval[int](p, `[...document.querySelectorAll("#drawing .wave-clip")].map(e => e.getBoundingClientRect()).filter(r => r.width && r.bottom <= innerHeight).length`); n < 2 {
		t.Errorf("%d lanes are in sight at 740 × 360", n)
	}
}
