package job_test

import (
	"net/url"
	"strings"
	"testing"

	"phasewright/web/webtest"
)

func cardJob(s *webtest.Shop, example string) string {
	s.T.Helper()
	w := s.Post("/new", url.Values{"name": {example}, "from": {"paste"}, "yaml": {webtest.Example(s.T, example)}})
	if w.Code != 303 {
		s.T.Fatalf("new job: %d", w.Code)
	}
	return w.Header().Get("Location")
}

// The page begins with what stops, then what is to be heeded, before drawings and tables; each names its line of the
// card and leads to that field of the form, unfolded. The four marks stand once in the table and as one item.
func TestSheetPageInOrder(t *testing.T) {
	s := webtest.NewShop(t)
	job := cardJob(s, "mill-pump") // its steel gear is a stop, invented
	page := s.Get(job + "/sheet").Body.String()
	last := 0
	for _, part := range []string{`role="alert"><h2>Do not work by this sheet yet`, `id="item-gear_material"`, "<h2>Caution</h2>",
		`id="item-rotor_sweep"`, "<h2>Damper marks</h2>", `id="item-marks"`, `id="item-piston_stop"`} {
		at := strings.Index(page, part)
		if at < last {
			t.Errorf("%s stands at letter %d, before what should come first (%d)", part, at, last)
		}
		last = max(last, at)
	}
	if _, after, _ := strings.Cut(page, `id="item-marks"`); strings.Contains(after, "85.8") { // drawn and in the table
		t.Error("the distance of the lead's mark is told again among the items")
	}
	link := job + "/card?open=distributor#card.distributor.gear_material"
	if !strings.Contains(page, `href="`+link+`"`) {
		t.Errorf("no link to %s", link)
	}
	form := s.Get(job + "/card?open=ignition").Body.String()
	if n := strings.Count(form, `<details class="section" open`); n != strings.Count(s.Get(job+"/card").Body.String(), `<details class="section" open`)+1 {
		t.Errorf("%d sections are unfolded", n)
	}
}

// On a phone the link leads to the field, in sight.
func TestCureLinkOnAPhone(t *testing.T) {
	s := webtest.NewShop(t)
	job := cardJob(s, "mill-pump")
	base, _ := s.Listen()
	p := s.Screen(webtest.Browser(t), base, 360, 740)
	p.Open(job + "/sheet")
	p.Click(`#item-gear_material .cure a`)
	p.Wait(`location.pathname.endsWith("/card") && document.readyState == "complete"`)
	p.Wait(`(() => { const b = document.getElementById("card.distributor.gear_material").getBoundingClientRect(); return b.height > 0 && b.top > 0 && b.bottom < innerHeight })()`)
}

// Pictures to be looked at, where SCREENS names a folder.
func TestSheetScreens(t *testing.T) {
	dir := webtest.ScreensFolder(t)
	s := webtest.NewShop(t)
	stop, fine := cardJob(s, "mill-pump"), cardJob(s, "sandpiper")
	s.Photograph(t, dir, map[string]string{"sheet-stop": stop + "/sheet", "sheet-caution": fine + "/sheet",
		"sheet-cure": stop + "/card?open=distributor#card.distributor.gear_material"}, webtest.Enlivened)
}
