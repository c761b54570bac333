package livebench_test

import (
	"bufio"
	"context"
	"fmt"
	"net"
	"net/http"
	"net/url"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"sync"
	"sync/atomic"
	"testing"
	"time"

	"github.com/chromedp/cdproto/network"
	"github.com/chromedp/chromedp"

	"phasewright/book"
	"phasewright/web"
	"phasewright/web/access"
	"phasewright/web/page"
	"phasewright/web/webtest"
)

// school is a host's program over one book file, which can be started again, with a line for each device.
type school struct {
	t       *testing.T
	path    string
	devices deviceList
	shop    atomic.Pointer[webtest.Shop] // nil: the program does not run
}

// deviceList keeps paired devices over a restart, as the file beside the book does.
type deviceList struct {
	mu  sync.Mutex
	all []access.Device
}

func (d *deviceList) Load() ([]access.Device, error) {
	d.mu.Lock()
	defer d.mu.Unlock()
	return slices.Clone(d.all), nil
}

func (d *deviceList) Save(all []access.Device) error {
	d.mu.Lock()
	defer d.mu.Unlock()
	d.all = slices.Clone(all)
	return nil
}

func newSchool(t *testing.T) *school {
	c := &school{t: t, path: filepath.Join(t.TempDir(), "shop.book")}
	c.start()
	t.Cleanup(func() { c.stop() })
	return c
}

func (c *school) start() *webtest.Shop {
	b, err := book.Open(context.Background(), c.path, book.Options{})
	if err != nil {
		c.t.Fatal(err)
	}
	config := web.Config{Book: b, Version: "test", HostName: "Eve Marsh", Devices: &c.devices, Hosts: []string{"192.0.2.7"},
		Base: func() string { return "http://192.0.2.7:8080" }}
	s, err := web.New(config)
	if err != nil {
		c.t.Fatal(err)
	}
	shop := &webtest.Shop{Server: s, T: c.t, Book: b, Config: config}
	c.shop.Store(shop)
	return shop
}

func (c *school) stop() {
	if s := c.shop.Swap(nil); s != nil {
		s.Access.Streams.CloseAll()
		s.Close()
		s.Book.Close()
	}
}

// line is an address at which requests count as coming from a device of the network, or from the host itself with "".
func (c *school) line(from string) string {
	c.t.Helper()
	l, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		c.t.Fatal(err)
	}
	h := &http.Server{Handler: http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		s := c.shop.Load()
		if s == nil {
			panic(http.ErrAbortHandler) // nobody listens
		}
		if from != "" {
			r.RemoteAddr = from + ":50000"
		}
		s.ServeHTTP(w, r)
	})}
	go h.Serve(l)
	c.t.Cleanup(func() { h.Close() })
	return "http://" + l.Addr().String()
}

// student is a phone in the class.
type student struct {
	*webtest.Screen
	name   string
	cookie *http.Cookie
}

func (c *school) student(b context.Context, n int, name string, role page.Role) *student {
	c.t.Helper()
	from := fmt.Sprintf("192.0.2.%d", 20+n)
	s := c.shop.Load()
	i, err := s.Invite(role)
	if err != nil {
		c.t.Fatal(err)
	}
	w := s.Do(webtest.Request("POST", "/pair", from+":50000", url.Values{"code": {i.Spaced()}, "name": {name}}))
	webtest.WantCode(c.t, w, http.StatusSeeOther)
	st := &student{name: name}
	for _, one := range w.Result().Cookies() {
		if strings.HasSuffix(one.Name, "phasewright") {
			st.cookie = one
		}
	}
	base := c.line(from)
	st.Screen = s.Screen(b, base, 360, 740)
	if _, err := chromedp.Call(st.Ctx, network.SetCookie, network.SetCookieParams{Name: st.cookie.Name,
		Value: st.cookie.Value, URL: base}); err != nil {
		c.t.Fatal(err)
	}
	return st
}

// source is what the device is sent for a page.
func (st *student) source(path string) string {
	r, _ := http.NewRequest("GET", st.Base+path, nil)
	r.AddCookie(st.cookie)
	answer, err := http.DefaultClient.Do(r)
	if err != nil {
		st.T.Fatal(err)
	}
	defer answer.Body.Close()
	text, _ := readAll(answer)
	return text
}

func readAll(answer *http.Response) (string, error) {
	var b strings.Builder
	_, err := bufio.NewReader(answer.Body).WriteTo(&b)
	return b.String(), err
}

// post sends what a page might, as JSON, and gives the status with what is said.
func (st *student) post(path string, f url.Values) (int, string) {
	r, _ := http.NewRequest("POST", st.Base+path, strings.NewReader(f.Encode()))
	r.AddCookie(st.cookie)
	r.Header.Set("Origin", st.Base)
	r.Header.Set("Accept", "application/json")
	r.Header.Set("Content-Type", "application/x-www-form-urlencoded")
	answer, err := http.DefaultClient.Do(r)
	if err != nil {
		st.T.Fatal(err)
	}
	defer answer.Body.Close()
	text, _ := readAll(answer)
	return answer.StatusCode, text
}

// follow listens on a bench as the device's page does, for as long as the test runs.
func (st *student) follow(path string) (heard func() string) {
	var mu sync.Mutex
	var all strings.Builder
	ctx, cancel := context.WithCancel(context.Background())
	st.T.Cleanup(cancel)
	go func() {
		for ctx.Err() == nil {
			r, _ := http.NewRequestWithContext(ctx, "GET", st.Base+path+"/live?tab=listens", nil)
			r.AddCookie(st.cookie)
			if answer, err := http.DefaultClient.Do(r); err == nil {
				for lines := bufio.NewScanner(answer.Body); lines.Scan(); {
					mu.Lock()
					all.WriteString(lines.Text() + "\n")
					mu.Unlock()
				}
				answer.Body.Close()
			}
			time.Sleep(50 * time.Millisecond) // the program may be starting
		}
	}()
	return func() string {
		mu.Lock()
		defer mu.Unlock()
		return all.String()
	}
}

// toldKeys are all that the stream says of a bench, as state.go has them. One that is added here was looked at: does it
// tell what is hidden?
var toldKeys = strings.Fields(`t a rate slow slowed housing wheel rotor damper axis hd md turned rpm volts look shows
	tacho mark lookWords crank cam sync key starter fuel power clamp light lever leverWords runs going says crankLine
	camLine coilLine sparkLine labels sparks notes heard did hole other unsafe slot watching holder held faults judged towers asks version scene`)

// telling are words that tell what is hidden.
var telling = regexp.MustCompile(`(?i)delay=|237\W{0,8}µs|"hidden"\s*:\s*\[|truly st|signal delay|at worst|left over`)

// A class: an instructor at the host, five phones, one exam. Controls are asked for and given, nobody takes them from
// the instructor or puts the bench away; the host starts again in the middle, and engine, attempt and class go on; the
// work is judged once; until the instructor tells, nothing that a phone gets says what is hidden.
func TestAClassSitsAnExam(t *testing.T) {
	c := newSchool(t)
	b := webtest.Browser(t)
	host := c.shop.Load().Screen(b, c.line(""), 1280, 800)
	names := []string{"Ada Reed", "Ben Hale", "Cleo Ames", "Dev Oram", "Finn Lowe"}
	var class []*student
	for i, name := range names {
		class = append(class, c.student(b, i, name, page.Work))
	}
	ada, ben, cleo := class[0], class[1], class[2]

	host.Open("/bench")
	host.TypeIn("#name", "Exam, Tuesday")
	host.Click(`input[value="falls-back"]`)
	host.Click("button.primary")
	host.Wait(`document.querySelector("#bench")`)
	room := webtest.Eval[string](host, "location.pathname")
	host.Wait(`document.documentElement.dataset.script == "on"`)
	host.Click("#hide summary")
	host.Do(chromedp.SetValue(chromedp.CSS("#fault1"), "delay"))
	host.TypeIn("#size1", "237us")
	host.Click(".b-hide .b-keys button:first-child")
	host.Wait(`document.querySelector("#secret")?.textContent.includes("237") && document.querySelector("#task")`)
	for _, p := range class {
		p.Open("/bench")
		p.Wait(`[...document.querySelectorAll(".jobs a")].some(a => a.innerText.includes("Exam, Tuesday") && a.innerText.includes("Timing falls back"))`)
		p.Click(".jobs a")
		p.Wait(`document.querySelector("#bench") && document.documentElement.dataset.script == "on"`)
	}
	heard := cleo.follow(room)
	host.Wait(`document.querySelector("[data-show=watching]").innerText == "7"`)

	// The first to touch has the controls; the next asks, and is given them.
	ada.Click(`[data-switch=key]`)
	ben.Wait(`document.querySelector("#holder").innerText == "Ada Reed holds the controls" && document.querySelector("#take").innerText == "Ask for them"`)
	ben.Click("#take")
	ben.Wait(`document.querySelector("#take").innerText == "Asked"`)
	ada.Wait(`document.querySelector("#holder").innerText == "Ben Hale asks" && document.querySelector("#take").innerText == "Give"`)
	ada.Click("#take")
	ben.Wait(`document.querySelector("#bench").dataset.hold == "mine"`)
	ada.Wait(`document.querySelector("#said").innerText == "Ben Hale has the controls now."`)
	// The instructor takes over at once; no student takes them back, or puts the bench away.
	host.Click("#take")
	host.Wait(`document.querySelector("#bench").dataset.hold == "mine"`)
	ada.Click("#take")
	ada.Wait(`document.querySelector("#take").innerText == "Asked"`)
	for _, path := range []string{"/away", "/again"} {
		if code, said := ada.post(room+path, nil); code != http.StatusConflict || !strings.Contains(said, "Eve Marsh is in charge of this bench") {
			t.Errorf("%s by a student: %d %s", path, code, said)
		}
	}
	for _, path := range []string{"/reveal", "/hide"} {
		if code, _ := ada.post(room+path, url.Values{"none": {"yes"}}); code != http.StatusForbidden {
			t.Errorf("%s by a student: %d", path, code)
		}
	}
	if webtest.Eval[bool](ada.Screen, `!!document.querySelector('form[action$="/away"], form[action$="/reveal"], form[action$="/hide"], form[action$="/again"]')`) {
		t.Error("a student is offered what is the instructor's")
	}
	host.Wait(`document.querySelector("#take").innerText == "Give"`)
	host.Click("#take")
	ada.Wait(`document.querySelector("#bench").dataset.hold == "mine" && document.querySelector("#take").innerText == "Hand back"`)
	ada.Click("#take")
	host.Wait(`document.querySelector("#bench").dataset.hold == "free"`)

	// The cure goes onto the controller's screen, the engine is cranked; then the host starts again.
	rig := func() interface {
		Missing() float64
		Allowance() float64
		Stands() (float64, float64, int, bool)
	} {
		r, err := c.shop.Load().Livebench.At(room)
		if err != nil {
			t.Fatal(err)
		}
		return r
	}
	cure := rig().Allowance() + rig().Missing()
	ben.Click("#take")
	ben.Wait(`document.querySelector("#bench").dataset.hold == "mine" && document.querySelector("#settings input")`)
	webtest.Eval[bool](ben.Screen, fmt.Sprintf(`(document.querySelector("#settings").closest("details").open = true, document.querySelector("#allowance").value = "%.0f", true)`, cure))
	ben.Click(`#settings form button`)
	ben.Wait(`document.querySelector("#said").innerText.includes("store it next")`)
	ben.Click(`#starter`)
	cleo.Wait(`Number(document.querySelector("[data-show=rpm]").innerText) > 100`)
	time.Sleep(3 * time.Second) // longer than a page may be silent: this one is awake
	if webtest.Eval[string](ben.Screen, `document.querySelector("#starter").getAttribute("aria-pressed")`) != "true" {
		t.Error("the starter was let go under a page that is awake")
	}
	_, turned, attempt, _ := rig().Stands()
	c.stop()
	for _, p := range append([]*student{{Screen: host}}, class...) {
		p.Wait(`document.querySelector("#line").innerText.includes("line to the host is lost")`)
	}
	c.start()
	_, again, same, judged := rig().Stands()
	if again < turned || same != attempt || judged {
		t.Errorf("the crank stood at %.1f° of attempt %d, and after a new start at %.1f° of attempt %d", turned, attempt, again, same)
	}
	for _, p := range append([]*student{{Screen: host}}, class...) {
		p.Wait(`document.querySelector("#line").hidden && document.querySelector("#bench").dataset.hold != ""`)
	}
	host.Wait(`document.querySelector("[data-show=watching]").innerText == "7" && document.querySelector("[data-switch=key]").getAttribute("aria-pressed") == "true"`)
	cleo.Wait(`document.querySelector("#starter").getAttribute("aria-pressed") == "false" && document.querySelector("[data-show=rpm]").innerText == "0"`) // nobody held it
	if got := rig().Allowance(); got < cure-1 || got > cure+1 {
		t.Errorf("the screen of the controller shows %.0f µs after a new start, want %.0f µs", got, cure)
	}

	// Ben goes on where he was, and has the work judged: once.
	ben.Wait(`document.querySelector("#bench").dataset.hold == "free"`)
	for _, what := range []string{"store", "cycle"} {
		if code, said := ben.post(room+"/do", url.Values{"do": {what}, "tab": {webtest.Eval[string](ben.Screen, `sessionStorage.getItem("pw.tab")`)}}); code != 200 {
			t.Fatalf("%s: %d %s", what, code, said)
		}
	}
	ben.Wait(`document.querySelector("#bench").dataset.hold == "mine"`)
	ben.Click("#judge form .b-ask summary")
	ben.Click("#judge form .b-ask button")
	for _, p := range class {
		p.Wait(`document.querySelector("#outcome").innerText.toLowerCase().includes("goal ") && document.querySelector("#outcome").innerText.includes("judged for Ben Hale")`)
		p.Wait(`!document.querySelector("#judge form")`)
	}
	if code, said := ben.post(room+"/judge", url.Values{"tab": {webtest.Eval[string](ben.Screen, `sessionStorage.getItem("pw.tab")`)}}); code != http.StatusConflict || !strings.Contains(said, "final") {
		t.Errorf("a second press: %d %s", code, said)
	}

	// Nothing that a student got tells what is hidden.
	for _, p := range class {
		dom := webtest.Eval[string](p.Screen, `document.documentElement.outerHTML`)
		for what, text := range map[string]string{"page": p.source(room), "page as it stands": dom, "list": p.source("/bench")} {
			if found := telling.FindString(webtest.Unexplained(text)); found != "" {
				t.Errorf("%s of %s says %q", what, p.name, found)
			}
		}
	}
	stream := heard()
	if n := strings.Count(stream, "data: {\"t\""); n < 30 {
		t.Errorf("only %d pictures came", n)
	}
	if found := telling.FindString(stream); found != "" {
		t.Errorf("the stream says %q", found)
	}
	for _, key := range regexp.MustCompile(`[{,]"([A-Za-z]+)":`).FindAllStringSubmatch(stream, -1) {
		if !slices.Contains(append(toldKeys, "you", "n", "who"), key[1]) {
			t.Errorf("the stream tells of %q", key[1])
		}
	}

	// The instructor tells, and every screen shows it.
	host.Click("#tell summary")
	host.Click("#tell button")
	for _, p := range class {
		p.Wait(`document.querySelector("#outcome").innerText.includes("What was hidden") && document.querySelector("#outcome").innerText.includes("237")`)
		quietConsole(t, p.Screen)
	}
	quietConsole(t, host)
	report, err := c.shop.Load().Book.Check(t.Context())
	if err != nil || len(report.Problems) > 0 {
		t.Errorf("the book after the class: %v, %v", report.Problems, err)
	}
}
