package recording_test

import (
	"bytes"
	"fmt"
	"math"
	"math/rand/v2"
	"net/http"
	"regexp"
	"strconv"
	"strings"
	"testing"

	"phasewright/bench"
	"phasewright/book"
	"phasewright/waveform"
	"phasewright/web"
	"phasewright/web/page"
	"phasewright/web/recording"
	"phasewright/web/webtest"
)

// spikes are invented recordings of a second at a microsecond's step, quiet but for one sample (or one change and back)
// at spikeAt.
const spikeAt = 0.617283

func spiked(t testing.TB, format string) []byte {
	t.Helper()
	const rows, at = 1_000_000, 617_283
	var b bytes.Buffer
	switch format {
	case "csv":
		b.WriteString("time_s,pickup\n")
		for i := range rows {
			v := "0.5"
			if i == at {
				v = "9.5"
			}
			fmt.Fprintf(&b, "0.%06d,%s\n", i, v)
		}
	case "wav":
		head := []byte("RIFF\x00\x00\x00\x00WAVEfmt \x10\x00\x00\x00\x01\x00\x01\x00\x40\x42\x0f\x00\x80\x84\x1e\x00\x02\x00\x10\x00data\x80\x84\x1e\x00")
		size := len(head) - 8 + 2*rows
		head[4], head[5], head[6], head[7] = byte(size), byte(size>>8), byte(size>>16), byte(size>>24)
		b.Write(head)
		for i := range rows {
			v := int16(1000)
			if i == at {
				v = 30000
			}
			b.Write([]byte{byte(v), byte(v >> 8)})
		}
	case "vcd":
		b.WriteString("$timescale 1 us $end\n$var wire 1 ! pickup $end\n$var wire 1 \" other $end\n$enddefinitions $end\n#0\n0!\n")
		for i := 0; i < rows; i += 40 {
			fmt.Fprintf(&b, "#%d\n%d\"\n", i, i/40%2)
			if i <= at && i+40 > at {
				fmt.Fprintf(&b, "#%d\n1!\n#%d\n0!\n", at, at+1)
			}
		}
	}
	return b.Bytes()
}

var (
	numbers = regexp.MustCompile(`-?[0-9.]+`)
	paths   = regexp.MustCompile(` d="([^"]*)"`)
)

// highest gives the time of the highest point that is drawn of the first channel on the desk's or the phone's plate,
// and how high it stands above the lowest, mm.
func highest(t testing.TB, page, which string) (at, rise float64) {
	t.Helper()
	plate := between(t, page, `class="`+which+`-only"`, "</svg>")
	ends := regexp.MustCompile(`data-left="([0-9.]+)" data-right="([0-9.]+)"`).FindStringSubmatch(plate)
	view := regexp.MustCompile(`data-from="([^"]+)" data-to="([^"]+)"`).FindStringSubmatch(page)
	if ends == nil || view == nil {
		t.Fatal("no place of the axis in the page")
	}
	num := func(s string) float64 { v, _ := strconv.ParseFloat(s, 64); return v }
	moving := between(t, plate, `class="wave-moving"`, "</g>\n</g>")
	var x, top, foot = 0.0, math.Inf(1), math.Inf(-1)
	for _, d := range paths.FindAllStringSubmatch(moving, -1) {
		if strings.Count(d[1], "L") == 1 && strings.Contains(moving, "hair") && onlyUpright(d[1]) {
			continue // a line of the grid
		}
		n := numbers.FindAllString(d[1], -1)
		for i := 0; i+1 < len(n); i += 2 {
			if strings.Contains(d[1], "A") {
				break // the dot of a sample
			}
			if y := num(n[i+1]); y < top-1e-9 {
				x, top = num(n[i]), y
			}
			foot = math.Max(foot, num(n[i+1]))
		}
	}
	left, right := num(ends[1]), num(ends[2])
	return num(view[1]) + (x-left)/(right-left)*(num(view[2])-num(view[1])), foot - top
}

func onlyUpright(d string) bool {
	n := numbers.FindAllString(d, -1)
	return len(n) == 4 && n[0] == n[2]
}

// One sample out of a million stands in the picture of the whole recording, and at its own time in every closer one,
// whatever the format.
func TestSpikeStandsInThePicture(t *testing.T) {
	for _, format := range []string{"csv", "wav", "vcd"} {
		s := webtest.NewShop(t)
		page := captured(s, s.NewJob(), "spike."+format, spiked(t, format))
		if format == "vcd" {
			page += "?channel=pickup"
		} else {
			page += "?"
		}
		for _, width := range []float64{1, 0.2, 5e-3, 300e-6, 20e-6} {
			from := math.Max(0, spikeAt-width/3)
			body := s.Get(fmt.Sprintf("%s&from=%.7f&to=%.7f", page, from, from+width))
			webtest.WantCode(t, body, 200)
			for which, columns := range map[string]float64{"desk": recording.DeskColumns, "phone": recording.PhoneColumns} {
				at, rise := highest(t, body.Body.String(), which)
				if rise < 4 {
					t.Errorf("%s, %v s wide, %s: what is drawn rises %.2f mm, the spike is not there", format, width, which, rise)
				}
				if off := math.Abs(at - spikeAt); off > width/columns+1.01e-6 {
					t.Errorf("%s, %v s wide, %s: the spike is drawn at %.7f s, it is at %v", format, width, which, at, spikeAt)
				}
			}
			// and it is gone from a view beside it
			beside := s.Get(fmt.Sprintf("%s&from=%.7f&to=%.7f", page, 0.1, 0.1+width/3)).Body.String()
			if _, rise := highest(t, beside, "desk"); width < 0.3 && rise > 1 {
				t.Errorf("%s, %v s wide: a view without the spike rises %.2f mm", format, width, rise)
			}
		}
	}
}

// The figures below the drawing are the extremes of the samples in the stretch, as a plain reading of the file
// has them.
func TestStretchAgreesWithThePlainReading(t *testing.T) {
	rng := rand.New(rand.NewPCG(3, 4))
	for _, format := range []string{"csv", "wav", "vcd"} {
		s := webtest.NewShop(t)
		data := webtest.Run{Format: format, Seconds: 3, Faults: bench.Faults{Noise: 0.02}}.Record(t)
		page := captured(s, s.NewJob(), "run."+format, data)
		all, err := waveform.ReadAll(t.Context(), waveform.File("run", bytes.NewReader(data), int64(len(data))), waveform.Options{})
		if err != nil {
			t.Fatal(err)
		}
		for range 12 {
			width := 2.9 * math.Pow(10, -3.5*rng.Float64())
			from := rng.Float64() * (2.9 - width)
			body := s.Get(fmt.Sprintf("%s?from=%.9f&to=%.9f", page, from, from+width)).Body.String()
			view := regexp.MustCompile(`data-from="([^"]+)" data-to="([^"]+)"`).FindStringSubmatch(body)
			a, _ := strconv.ParseFloat(view[1], 64)
			b, _ := strconv.ParseFloat(view[2], 64)
			rows := regexp.MustCompile(`<tr><th scope="row">([^<]+)</th><td>[^<]*</td><td>[^<]*</td><td>[^<]*</td><td>([^<]+)</td><td>([^<]+)</td><td>[^<]*</td></tr>`).FindAllStringSubmatch(between(t, body, `id="levels"`, "</table>"), -1)
			if len(rows) != len(all.Channels) {
				t.Fatalf("%s: %d rows, %d channels", format, len(rows), len(all.Channels))
			}
			for _, row := range rows {
				ch := -1
				for i := range all.Channels {
					if all.Channels[i].Name == row[1] {
						ch = i
					}
				}
				least, most := extremesIn(all, ch, a, b)
				for i, want := range [2]float64{least, most} {
					text := strings.Fields(strings.NewReplacer("−", "-", "\u202f", "").Replace(row[2+i]))[0]
					got, err := strconv.ParseFloat(text, 64)
					_, decimals, _ := strings.Cut(text, ".")
					// a view from memory may reach over its ends by a stretch of 256 samples at most: it then shows
					// more, never less
					slack := 0.51 * math.Pow(10, -float64(len(decimals)))
					if err != nil || i == 0 && got > want+slack || i == 1 && got < want-slack || width < 0.05 && math.Abs(got-want) > slack {
						t.Errorf("%s, %s, %v to %v s: %q, the samples say %v", format, row[1], a, b, row[2+i], want)
					}
				}
			}
		}
	}
}

// extremesIn are the extremes of the samples from a up to b, or of the state there.
func extremesIn(all *waveform.Recording, ch int, a, b float64) (least, most float64) {
	least, most = math.Inf(1), math.Inf(-1)
	for k, at := range all.Times[ch] {
		v := all.Values[ch][k]
		holds := all.Channels[ch].Held && float64(at) <= a && (k+1 == len(all.Times[ch]) || float64(all.Times[ch][k+1]) > a)
		if float64(at) >= a && float64(at) < b || holds {
			least, most = math.Min(least, v), math.Max(most, v)
		}
	}
	return least, most
}

// restarted is the shop's server begun anew over the same book.
func restarted(s *webtest.Shop) *webtest.Shop {
	s.T.Helper()
	s.Server.Close()
	fresh, err := web.New(s.Config)
	if err != nil {
		s.T.Fatal(err)
	}
	return &webtest.Shop{Server: fresh, T: s.T, Book: s.Book, Config: s.Config}
}

// After a restart the page says that it prepares the waveform, asks again by itself, and then shows it, also to
// somebody who may only look; no event is written for that.
func TestWaveformComesBackAfterARestart(t *testing.T) {
	s := webtest.NewShop(t)
	job := s.NewJob()
	path := captured(s, job, "run.csv", webtest.Run{Format: "csv", Seconds: 2}.Record(t))
	before := len(s.Kinds(job))
	s = restarted(s)
	looker := s.PairPhone(page.Look)
	get := func() string {
		w := s.Do(webtest.Request("GET", path, webtest.PhoneAddr, nil, func(r *http.Request) { r.AddCookie(looker) }))
		webtest.WantCode(t, w, 200)
		return w.Body.String()
	}
	body := get()
	webtest.WantIn(t, body, "The waveform is being prepared.")
	webtest.WantIn(t, body, `data-again="1000"`)
	s.Settle()
	webtest.WantIn(t, get(), `class="wave-moving"`)
	if n := len(s.Kinds(job)); n != before {
		t.Errorf("looking wrote %d events", n-before)
	}
}

// More recordings than are kept: each can still be looked at, one after the other, and no more than a few are kept.
func TestWaveformsThatGaveWay(t *testing.T) {
	s := webtest.NewShop(t)
	job := s.NewJob()
	var pages []string
	for i := range recording.KeptWaves + 3 {
		pages = append(pages, captured(s, job, fmt.Sprintf("run %d.csv", i), webtest.Run{Format: "csv", Seconds: 0.3 + float64(i)/100}.Record(t)))
	}
	for range 2 {
		for _, page := range pages {
			if body := s.Get(page).Body.String(); !strings.Contains(body, "wave-moving") {
				webtest.WantIn(t, body, "being")
				s.Settle()
				webtest.WantIn(t, s.Get(page).Body.String(), "wave-moving")
			}
			if n := len(s.Recording.Kept(t)); n > recording.KeptWaves {
				t.Fatalf("%d kept", n)
			}
		}
	}
}

// A file that is no recording, and one that has gone from the store, say so and lead on; nothing is a dead end.
func TestWaveformThatCannotBe(t *testing.T) {
	s := webtest.NewShop(t)
	job := s.NewJob()
	photo := captured(s, job, "photo.jpg", []byte("\xff\xd8\xff\xe0 this is a photo"))
	body := s.Get(photo).Body.String()
	webtest.WantIn(t, body, "The waveform cannot be drawn.")
	webtest.WantIn(t, body, photo+"?again=1")
	s.Get(photo + "?again=1")
	s.Settle()
	webtest.WantIn(t, s.Get(photo).Body.String(), "cannot be drawn")
	webtest.WantCode(t, s.Get("/job/"+job+"/captures/"+strings.Repeat("0", 64)+"/wave"), 404)
	other := s.NewJob()
	webtest.WantCode(t, s.Get(strings.Replace(photo, job, other, 1)), 404)                // another job's file
	webtest.WantCode(t, s.Do(webtest.Request("GET", photo, webtest.PhoneAddr, nil)), 303) // not paired

	one := captured(s, job, "one.csv", []byte("time_s,a\n0.5,1\n"))
	webtest.WantIn(t, s.Get(one).Body.String(), "one instant only")
}

// Whatever stands in the address is held inside the recording or answered in words at its field.
func TestWaveformAddresses(t *testing.T) {
	s := webtest.NewShop(t)
	page := captured(s, s.NewJob(), "run.csv", webtest.Run{Format: "csv", Seconds: 2, Faults: bench.Faults{Noise: 0.02}}.Record(t))
	for query, want := range map[string]string{
		"?from=0.5&to=0.6":         `data-from="0.5" data-to="0.6"`,
		"?from=-5&to=0.5":          `data-from="0"`,
		"?from=5&to=3":             `data-from="0"`,
		"?from=1.99&to=99":         `data-to="1.99999"`,
		"?from=1e300&to=1e301":     `data-from="0"`,
		"?at=500ms&width=10ms":     `data-from="0.495" data-to="0.505"`,
		"?at=0,5&width=10+ms":      `data-from="0.495" data-to="0.505"`,
		"?from=0.5&to=0.500000001": `data-least="8e-05"`, // eight samples of 10 µs
		"?channel=cam&from=0&to=1": `aria-label="cam"`,
		"?channel=nobody":          `aria-label="crank"`,
	} {
		w := s.Get(page + query)
		if !strings.Contains(w.Body.String(), want) || w.Code != 200 {
			t.Errorf("%s: %d, page lacks %s", query, w.Code, want)
		}
	}
	for query, want := range map[string]string{"?at=77": "write a time between them", "?at=soon": "no number in front", "?at=NaN": "a", "?at=5mm": "mm", "?from=x&to=1": "x"} {
		w := s.Get(page + query)
		webtest.WantCode(t, w, 200) // with the whole recording: a page that waited for the reading takes no failure
		webtest.WantIn(t, between(t, w.Body.String(), `id="at-said"`, "</div>"), want)
	}
	if body := s.Get(page + "?channel=cam").Body.String(); strings.Contains(body, `aria-label="crank"`) {
		t.Error("a channel that nobody chose is drawn")
	}
}

// The links lead to the anomalies of the recording, one after the other, and each stands in the view that its
// link opens.
func TestWaveformLeadsThroughTheAnomalies(t *testing.T) {
	s := webtest.NewShop(t)
	job := s.NewJob()
	page := captured(s, job, "run.csv", webtest.Run{Format: "csv", Seconds: 6, Faults: bench.Faults{Noise: 0.02}}.Record(t))
	j, err := s.Shelf.Job(t.Context(), job)
	if err != nil {
		t.Fatal(err)
	}
	sha, _ := book.ParseHash(strings.Split(page, "/")[4])
	res := j.Captures[sha]
	if res == nil || len(res.Anomalies) < 3 {
		t.Fatal("too few anomalies for this test")
	}
	at := page
	for i, a := range res.Anomalies {
		body := s.Get(at).Body.String()
		link := regexp.MustCompile(`data-do="after" href="([^"]+)"`).FindStringSubmatch(body)
		if link == nil {
			t.Fatalf("no way on after %d anomalies of %d", i, len(res.Anomalies))
		}
		at = strings.ReplaceAll(link[1], "&amp;", "&")
		body = s.Get(at).Body.String()
		view := regexp.MustCompile(`data-from="([^"]+)" data-to="([^"]+)"`).FindStringSubmatch(body)
		from, _ := strconv.ParseFloat(view[1], 64)
		to, _ := strconv.ParseFloat(view[2], 64)
		if !(a.TimeS >= from && a.TimeS <= to) {
			t.Errorf("anomaly %d at %v is not in the view from %v to %v", i, a.TimeS, from, to)
		}
		webtest.WantIn(t, between(t, body, `id="found"`, `id="levels"`), recording.AnomalyWords(a.Kind)+" on "+a.Channel)
		if i == 2 {
			break
		}
	}
	if back := s.Get(at).Body.String(); !strings.Contains(back, `data-do="before"`) {
		t.Error("no way back")
	}
}
