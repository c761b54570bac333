package recording_test

import (
	"bytes"
	"compress/gzip"
	"net/url"
	"strings"
	"testing"

	"phasewright/bench"
	"phasewright/web/webtest"
)

// benchRun is a recording of the bench running the Sandpiper card with faults.
func benchRun(t testing.TB, profile string, faults ...string) []byte {
	t.Helper()
	c := webtest.SandpiperBench(t)
	f, err := bench.ParseFaults(c, faults...)
	if err != nil {
		t.Fatal(err)
	}
	p, err := bench.ParseProfile(profile)
	if err != nil {
		t.Fatal(err)
	}
	rig, err := bench.NewRig(c, f, p, 1)
	if err != nil {
		t.Fatal(err)
	}
	var b bytes.Buffer
	if err := bench.WriteVCD(&b, rig); err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}

// sent sends a recording in, lets it be read, with roles where some are given, and gives the address of its page.
func sent(s *webtest.Shop, job, name string, data []byte, roles url.Values) string {
	s.T.Helper()
	if w := s.Do(webtest.UploadKeyed("/job/"+job+"/captures", webtest.HostAddr, "key of "+name, name, bytes.NewReader(data))); w.Code != 303 {
		s.T.Fatal(w.Code, w.Body)
	}
	s.Settle()
	files, err := s.Book.Attachments(s.T.Context(), job)
	if err != nil {
		s.T.Fatal(err)
	}
	page := ""
	for _, f := range files {
		if f.Name == name {
			page = "/job/" + job + "/captures/" + f.SHA256.String()
		}
	}
	if page == "" {
		s.T.Fatal("not stored: " + name)
	}
	if len(roles) > 0 {
		if w := s.Post(page, roles); w.Code != 303 {
			s.T.Fatal(w.Code, w.Body)
		}
		s.Settle()
	}
	return page
}

const wholeRun = "crank 2 s then sweep 180..750 rpm in 0.5 s then sweep 750..3600 rpm in 12 s"

// Pictures of recordings of all sorts, to be looked at, where SCREENS names a folder.
func TestCaptureScreens(t *testing.T) {
	dir := webtest.ScreensFolder(t)
	s := webtest.NewShop(t)
	job := s.NewJob()
	half := benchRun(t, wholeRun, "worn=1.2deg")
	pages := map[string]string{
		"capture-sound":  sent(s, job, "first run.vcd", benchRun(t, wholeRun, "housing=1.5deg", "delay=80us"), nil),
		"capture-cross":  sent(s, job, "crossfire.vcd", benchRun(t, wholeRun, "crossfire=30%"), nil),
		"capture-nomark": sent(s, job, "no mark.vcd", benchRun(t, wholeRun, "vane=1deg"), url.Values{"role.engine.mark": {"unknown"}}),
		"capture-nocam":  sent(s, job, "no cam.vcd", benchRun(t, wholeRun, "wobble=1deg"), url.Values{"role.engine.mark": {"unknown"}, "role.engine.cam": {"unknown"}}),
		"capture-none":   sent(s, job, "no pickup.vcd", benchRun(t, wholeRun, "pickup=off"), nil),
		"capture-part":   sent(s, job, "cut off.vcd", half[:len(half)*2/3], nil),
	}
	s.Photograph(t, dir, pages, nil)
}

// A recording with a mark and every signal: each drawing is there in both widths with its table, the upshot says what
// to turn, the wrong pulses lead to the waveform, and the paper is the same file each time.
func TestCapturePageDrawsAll(t *testing.T) {
	s := webtest.NewShop(t)
	job := s.NewJob()
	page := sent(s, job, "first run.vcd", benchRun(t, wholeRun, "housing=1.5deg", "delay=80us"), nil)
	body := s.Get(page).Body.String()
	for id, title := range map[string]string{"timing": "Timing error against speed", "speed": "Speed over time", "cylinders": "Cylinder by cylinder", "cylinder-speed": "Cylinder by cylinder, against speed", "cycle": "Edges around one cycle"} {
		_, view, ok := strings.Cut(body, `<figure id="view-`+id+`"`)
		view, _, _ = strings.Cut(view, "</figure>")
		if !ok || strings.Count(view, "<svg") != 2 || !strings.Contains(view, "<h2>"+title+"</h2>") || !strings.Contains(view, "<details>") || strings.Count(view, "<tr>") < 4 || strings.Contains(view, `class="want"`) {
			t.Errorf("%s: %d drawings, %d rows", id, strings.Count(view, "<svg"), strings.Count(view, "<tr>"))
		}
	}
	for _, part := range []string{"adjust", "Turn the housing 1.5° of shaft with the rotor", "Raise the delay allowance by 75 µs", `href="` + page + `/wave"`, "0 is TDC firing of cylinder 1, by the mark"} {
		webtest.WantIn(t, body, part)
	}
	leap := sent(s, job, "leap.vcd", benchRun(t, "crank 2 s then sweep 750..3600 rpm in 12 s"), nil) // no shaft leaps so
	webtest.WantIn(t, s.Get(leap).Body.String(), `/wave?at=2.0`)
	one, two := s.Get(page+"/recording.pdf"), s.Get(page+"/recording.pdf")
	webtest.WantCode(t, one, 200)
	if one.Header().Get("Content-Type") != "application/pdf" || !bytes.HasPrefix(one.Body.Bytes(), []byte("%PDF-")) || !bytes.Equal(one.Body.Bytes(), two.Body.Bytes()) {
		t.Errorf("%s, %d and %d bytes", one.Header().Get("Content-Type"), one.Body.Len(), two.Body.Len())
	}
	webtest.WantCode(t, s.Get("/job/"+job+"/captures/"+strings.Repeat("0", 64)+"/recording.pdf"), 404)
}

// What was not recorded is said where its drawing would stand, with what to record.
func TestCapturePageSaysWhatToRecord(t *testing.T) {
	s := webtest.NewShop(t)
	run := benchRun(t, wholeRun)
	for name, c := range map[string]struct {
		roles url.Values
		want  []string
	}{
		"no mark.vcd":  {url.Values{"role.engine.mark": {"unknown"}}, []string{"Spark after the active edge, against speed", "Absolute timing needs a mark: record a sensor", "iming is not shown", "0 is cylinder 1&#39;s active crank edge", "Without a mark at TDC"}},
		"no cam.vcd":   {url.Values{"role.engine.mark": {"unknown"}, "role.engine.cam": {"unknown"}}, []string{"Cylinders are told apart by the cam pickup: record it too", "could not be told"}},
		"no spark.vcd": {url.Values{"role.engine.spark": {"unknown"}}, []string{"No spark was recorded: record the coil driver", "Edges around one cycle"}},
		"no crank.vcd": {url.Values{"role.engine.crank": {"unknown"}, "role.engine.cam": {"unknown"}, "role.engine.spark": {"unknown"}, "role.engine.mark": {"unknown"}}, []string{"nothing can be drawn", "nothing to tell"}},
	} {
		job := s.NewJob() // of its own: in one job these recordings would contradict each other
		body := s.Get(sent(s, job, name, append(run, []byte("\n"+"$comment "+name+" $end\n")...), c.roles)).Body.String()
		for _, part := range c.want {
			if !strings.Contains(body, part) && !strings.Contains(strings.ReplaceAll(body, "\u202f", " "), part) && !strings.Contains(body, strings.ReplaceAll(part, "&#39;", "'")) {
				t.Errorf("%s: the page does not say %q", name, part)
			}
		}
	}
}

// A file that ends too early is read as far as it goes; page and paper call it a part.
func TestCapturePageOfAPart(t *testing.T) {
	s := webtest.NewShop(t)
	job := s.NewJob()
	var packed bytes.Buffer
	z := gzip.NewWriter(&packed)
	z.Write(benchRun(t, wholeRun))
	z.Close()
	page := sent(s, job, "cut off.vcd.gz", packed.Bytes()[:packed.Len()*2/3], nil)
	body := s.Get(page).Body.String()
	webtest.WantIn(t, body, "Only a part of it could be read")
	webtest.WantIn(t, body, "<svg")
	paper := s.Get(page + "/recording.pdf")
	webtest.WantCode(t, paper, 200)
	webtest.WantPDFText(t, "part.pdf", paper.Body.Bytes(), "a part of it")
}
