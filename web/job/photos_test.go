package job_test

import (
	"bytes"
	"image"
	"image/png"
	"net/http"
	"net/url"
	"strconv"
	"strings"
	"testing"

	"phasewright/procedure"
	"phasewright/web/webtest"
)

// A photo that proves a step is shown in the step and on the proof page, and goes out as the picture that its bytes are;
// what is no picture does not go out that way, whatever its sender called it.
func TestPhotosAreShown(t *testing.T) {
	s := webtest.NewShop(t)
	job := s.NewJob()
	s.UpTo(job, procedure.StepOpen)
	var picture bytes.Buffer
	if err := png.Encode(&picture, image.NewGray(image.Rect(0, 0, 40, 30))); err != nil {
		t.Fatal(err)
	}
	keep := func(name, data string) string {
		t.Helper()
		w := s.Do(webtest.UploadKeyed("/job/"+job+"/steps/photo?step=open", webtest.HostAddr, name, name, strings.NewReader(data)))
		webtest.WantCode(t, w, 303)
		_, sha, _ := strings.Cut(w.Header().Get("Location"), "&file=")
		return sha
	}
	sha := keep("from above.png", picture.String())
	at := "/job/" + job + "/photo/" + sha
	asked := s.Get("/job/" + job + "/steps?step=open&file=" + sha).Body.String()
	webtest.WantIn(t, asked, `<img src="`+at+`" alt="Photo: from above.png"`)
	s.Did(job, procedure.StepOpen, map[string]string{"file": sha})
	for _, page := range []string{"/steps?step=open", "/proof"} {
		webtest.WantIn(t, s.Get("/job/"+job+page).Body.String(), `<img src="`+at+`"`)
	}
	w := s.Get(at)
	webtest.WantCode(t, w, 200)
	h := w.Header()
	if h.Get("Content-Type") != "image/png" || h.Get("Content-Disposition") != "inline" || h.Get("X-Content-Type-Options") != "nosniff" || !bytes.Equal(w.Body.Bytes(), picture.Bytes()) {
		t.Errorf("headers %v, %d bytes; want the picture as it came", h, w.Body.Len())
	}
	for name, data := range map[string]string{"drawing.svg": `<svg xmlns="http://www.w3.org/2000/svg"><script>alert(1)</script></svg>`, "page.png": "<!doctype html><script>alert(1)</script>", "empty.jpg": " ", "paper.png": "%PDF-1.4\n"} {
		w := s.Get("/job/" + job + "/photo/" + keep(name, data))
		webtest.WantCode(t, w, http.StatusUnsupportedMediaType)
		if strings.Contains(w.Body.String(), "alert(1)") {
			t.Errorf("%s went out", name)
		}
	}
	other := s.NewJob()
	webtest.WantCode(t, s.Get("/job/"+other+"/photo/"+sha), 404)
	webtest.WantCode(t, s.Get("/job/"+job+"/photo/nothing"), 404)
}

// Who does a step is asked: nothing stands there for a device that has not said it, least of all the screen's name. The
// name that was written is kept for that device, and without one nothing is recorded.
func TestWhoIsAsked(t *testing.T) {
	s := webtest.NewShop(t)
	job := s.NewJob()
	at := "/job/" + job + "/steps"
	first := s.Get(at).Body.String()
	webtest.WantIn(t, first, `name="who" value=""`)
	form := func(who string) url.Values {
		p, state := s.Ordered(job)
		st, _ := p.Step(p.Next(state).Step)
		f := webtest.ProofForm(st.Demand)
		for name, value := range map[string]string{"act": "done", "step": string(st.ID), "who": who, "version": strconv.FormatInt(state.Version, 10)} {
			f.Set(name, value)
		}
		return f
	}
	before := len(s.Kinds(job))
	w := s.Post(at, form(" "))
	webtest.WantCode(t, w, 422)
	webtest.WantIn(t, webtest.HTMLText(w.Body.String()), "write the name of whoever does this step")
	webtest.WantIn(t, w.Body.String(), `aria-invalid="true"`)
	if n := len(s.Kinds(job)); n != before {
		t.Errorf("%d events without a name", n-before)
	}
	w = s.Post(at, form("Ada O’Reed; second=1"))
	webtest.WantCode(t, w, 303)
	cookies := w.Result().Cookies()
	if len(cookies) != 1 || !cookies[0].HttpOnly || cookies[0].SameSite != http.SameSiteStrictMode {
		t.Fatalf("cookies %v", cookies)
	}
	ask := func(path string) string {
		return s.Do(webtest.Request("GET", path, webtest.HostAddr, nil, func(r *http.Request) { r.AddCookie(cookies[0]) })).Body.String()
	}
	webtest.WantIn(t, ask(at), `name="who" value="Ada O’Reed; second=1"`)
	webtest.WantIn(t, ask("/job/"+job+"/proof"), `name="name" value="Ada O’Reed; second=1"`)
	webtest.WantIn(t, s.Get(at).Body.String(), `name="who" value=""`) // another device
	w = s.Do(webtest.Request("GET", at, webtest.HostAddr, nil, func(r *http.Request) { r.AddCookie(&http.Cookie{Name: cookies[0].Name, Value: "%zz"}) }))
	webtest.WantIn(t, w.Body.String(), `name="who" value=""`)
}
