package job_test

import (
	"archive/zip"
	"bytes"
	"fmt"
	"io"
	"net/url"
	"strings"
	"testing"
	"time"

	"phasewright/book"
	"phasewright/web/webtest"
)

// Jobs put away are found by a usual search, and said to be so; one who mistypes is told.
func TestTheListFindsJobsPutAway(t *testing.T) {
	s := webtest.NewShop(t)
	id := s.NewJob()
	webtest.WantCode(t, s.Post("/job/"+id+"/shelf", url.Values{"key": {"away"}}), 303)
	if strings.Contains(s.Get("/").Body.String(), id) {
		t.Error("a job put away stands among those in work")
	}
	line, err := s.Book.Job(t.Context(), id)
	if err != nil {
		t.Fatal(err)
	}
	word := strings.Fields(line.Name)[0]
	found := s.Get("/?q=" + url.QueryEscape(word)).Body.String()
	webtest.WantIn(t, found, id)
	webtest.WantIn(t, found, ", put away")
	if strings.Contains(found, "come close") {
		t.Error("what is written so is said to come close")
	}
	word = strings.Trim(word, ",")
	slip := s.Get("/?q=" + url.QueryEscape(word[:2]+"x"+word[3:])).Body.String()
	webtest.WantIn(t, slip, id)
	webtest.WantIn(t, slip, "Nothing is written just so. These come close.")
	webtest.WantIn(t, s.Get("/?q=zeppelin").Body.String(), "in jobs put away too")
}

// Whoever may erase a person does it on the job's page; no page shows the name after, without a restart.
func TestAPersonIsForgotten(t *testing.T) {
	s := webtest.NewShop(t)
	id := s.NewJob()
	form := url.Values{"key": {"o"}, "owner": {"Quillonia Vaster"}, "contact": {"+99 555 018"}, "name": {"Boat of Quillonia Vaster"}}
	webtest.WantCode(t, s.Post("/job/"+id+"/describe", form), 303)
	webtest.WantCode(t, s.Post("/job/"+id+"/note", url.Values{"key": {"n"}, "text": {"Call [[Wilmuthe Orzel]] first."}}), 303)
	webtest.WantCode(t, s.Post("/job/"+id+"/describe", url.Values{"key": {"p"}, "name": {"Ferry"}}), 303)
	front := s.Get("/job/" + id).Body.String()
	for _, want := range []string{"<li>Quillonia Vaster</li>", "<li>&#43;99 555 018</li>", "<li>Wilmuthe Orzel</li>",
		"The name stays in these entries:", `value="&#43;99 555 018"`} {
		webtest.WantIn(t, front, want)
	}
	webtest.WantCode(t, s.Post("/job/"+id+"/forget", url.Values{"key": {"f"}}), 422)
	webtest.WantIn(t, s.Get("/job/"+id).Body.String(), "Wilmuthe Orzel")
	for range 2 {
		webtest.WantCode(t, s.Post("/job/"+id+"/forget", url.Values{"key": {"f"}, "sure": {"yes"}}), 303)
	}
	front = s.Get("/job/" + id).Body.String()
	for _, gone := range []string{"owner Quillonia", "555", "Wilmuthe", "Forget the owner"} {
		if strings.Contains(front, gone) {
			t.Errorf("the page still has %q", gone)
		}
	}
	webtest.WantIn(t, front, "Call [[erased on ")
	webtest.WantIn(t, front, "personal data erased")
	if kinds := s.Kinds(id); kinds[len(kinds)-1] != book.KindPersonErased {
		t.Errorf("recorded: %v", kinds)
	}
}

// Name, owner, engine and bay are corrected by an entry; list, search and papers follow, the signature stays.
func TestAJobIsCalledOtherwise(t *testing.T) {
	s := webtest.NewShop(t)
	id := s.NewJob()
	if _, err := s.Book.Append(t.Context(), id, book.AnyVersion, book.Draft{Who: "Ada Reed", Kind: book.KindProofSigned,
		Payload: []byte(`{"name":"Ada Reed","verdict":"pass"}`)}); err != nil {
		t.Fatal(err)
	}
	before := len(s.Kinds(id))
	form := url.Values{"key": {"names"}, "name": {"Curlew, port engine"}, "owner": {"Søren Müller"}, "engine": {"six in line"}, "bay": {"3"}}
	webtest.WantCode(t, s.Post("/job/"+id+"/describe", form), 303)
	webtest.WantCode(t, s.Post("/job/"+id+"/describe", form), 303) // nothing is left to correct
	if kinds := s.Kinds(id); len(kinds) != before+1 || kinds[before] != book.KindJobDescribed {
		t.Errorf("recorded: %v", kinds[before:])
	}
	for _, q := range []string{"", "?q=curlew", "?q=mueller", "?q=port+engine"} {
		list := s.Get("/" + q).Body.String()
		webtest.WantIn(t, list, "Curlew, port engine")
		webtest.WantIn(t, list, "bay 3")
	}
	front := s.Get("/job/" + id).Body.String()
	webtest.WantIn(t, front, "signed by Ada Reed")
	webtest.WantIn(t, front, "corrected: name Curlew, port engine; owner Søren Müller")
	webtest.WantIn(t, s.Get("/job/"+id+"/sheet").Body.String(), "Curlew, port engine")
	paper := s.Get("/job/" + id + "/sheet.pdf")
	webtest.WantCode(t, paper, 200)
	if !strings.Contains(paper.Header().Get("Content-Disposition"), "Curlew-port-engine") {
		t.Error("the paper has the old name:", paper.Header())
	}
	webtest.WantIn(t, s.Get("/job/"+id+"/card").Body.String(), `value="Curlew, port engine"`)
	webtest.WantCode(t, s.Post("/job/"+id+"/describe", url.Values{"name": {" "}}), 422)
	// The card's own name and the job's are one: who changes it in the card changes it.
	text := webtest.Example(t, "sandpiper")
	i := strings.Index(text, "Sandpiper, main engine")
	if i < 0 {
		t.Fatal("the example is called otherwise")
	}
	save := func(yaml string) {
		line, err := s.Book.Job(t.Context(), id)
		if err != nil {
			t.Fatal(err)
		}
		webtest.WantCode(t, s.Post("/job/"+id+"/card", url.Values{"version": {fmt.Sprint(line.Version)}, "yaml": {yaml}}), 303)
	}
	save(text) // its name is that of the card before: nobody meant to change it
	webtest.WantIn(t, s.Get("/").Body.String(), "Curlew, port engine")
	save(strings.Replace(text, "Sandpiper, main engine", "Dunlin", 1))
	webtest.WantIn(t, s.Get("/").Body.String(), "Dunlin")
}

func TestEverythingOfAJobInOneFile(t *testing.T) {
	s := webtest.NewShop(t)
	id := s.NewJob()
	s.Read(id, "800", "9")
	for _, content := range []string{"first", "second"} {
		if _, err := s.Book.PutAttachment(t.Context(), id, book.NewAttachment{Who: "Ada", Name: "run 1.csv", MediaType: "text/csv"},
			strings.NewReader(content)); err != nil {
			t.Fatal(err)
		}
	}
	files, err := s.Book.Attachments(t.Context(), id)
	if err != nil {
		t.Fatal(err)
	}
	get := func() (map[string]string, []byte) {
		w := s.Get("/job/" + id + "/everything.zip")
		webtest.WantCode(t, w, 200)
		z, err := zip.NewReader(bytes.NewReader(w.Body.Bytes()), int64(w.Body.Len()))
		if err != nil {
			t.Fatal(err)
		}
		all := map[string]string{}
		for _, f := range z.File {
			r, err := f.Open()
			if err != nil {
				t.Fatal(err)
			}
			text, err := io.ReadAll(r)
			if err != nil {
				t.Fatal(err)
			}
			all[f.Name] = string(text)
		}
		return all, w.Body.Bytes()
	}
	all, sent := get()
	for name, begins := range map[string]string{"papers/set-up sheet.pdf": "%PDF-", "papers/order of work.pdf": "%PDF-",
		"papers/timing tape.pdf": "%PDF-", "data/job card.yaml": "", "data/readings.csv": "rpm,shown_deg", "data/job for a shop book.zip": "PK",
		"recordings and photos/run 1.csv": "first", "recordings and photos/run 1 (2).csv": "second", "read me first.txt": ""} {
		if text, ok := all[name]; !ok || !strings.HasPrefix(text, begins) {
			t.Errorf("%s is missing or begins with %.20q", name, text)
		}
	}
	if _, again := get(); !bytes.Equal(sent, again) {
		t.Error("the same job gives another file")
	}
	other := webtest.NewShop(t) // a customer's own shop book takes it
	if i, err := other.Book.Import(t.Context(), strings.NewReader(all["data/job for a shop book.zip"])); err != nil || i.Job != id {
		t.Errorf("%+v, %v", i, err)
	}
	// What was thrown away is told, and the file is whole without it.
	away := "/job/" + id + "/captures/" + files[0].SHA256.String() + "/away"
	webtest.WantCode(t, s.Post(away, nil), 422) // no reason
	webtest.WantCode(t, s.Post(away, url.Values{"reason": {"too large"}}), 303)
	list := s.Get("/job/" + id + "/captures").Body.String()
	webtest.WantIn(t, list, "content thrown away just now")
	webtest.WantIn(t, s.Get("/job/"+id).Body.String(), "content of a file thrown away: too large")
	all, _ = get()
	webtest.WantIn(t, all["read me first.txt"], "run 1.csv: its content was thrown away on")
	webtest.WantCode(t, s.Get("/job/"+id+"/photo/"+files[0].SHA256.String()), 410)
}

// Pictures to be looked at, where SCREENS names a folder.
func TestMemoryScreens(t *testing.T) {
	dir := webtest.ScreensFolder(t)
	s := webtest.NewShop(t)
	id, away := s.NewJob(), s.NewJob()
	webtest.WantCode(t, s.Post("/job/"+away+"/shelf", url.Values{"key": {"away"}}), 303)
	webtest.WantCode(t, s.Post("/job/"+id+"/describe", url.Values{"key": {"n"}, "owner": {"Søren Müller"}, "engine": {"six in line"}, "bay": {"3"}}), 303)
	for _, r := range []string{"800", "1500", "2200", "3000", "3700"} {
		s.Read(id, r, "6.0")
	}
	next := s.Post("/new", url.Values{"name": {"Dipper, port engine"}, "from": {id}, "key": {"dipper"}}).Header().Get("Location")
	signed := s.NewJob()
	if _, err := s.Book.Append(t.Context(), signed, book.AnyVersion, book.Draft{Who: "Ada Reed", Kind: book.KindProofSigned,
		Payload: []byte(`{"name":"Ada Reed","verdict":"pass"}`), At: time.Now().AddDate(-4, 0, 0)}); err != nil {
		t.Fatal(err)
	}
	s.Photograph(t, dir, map[string]string{"card-learnt": next + "/card", "job-closed": "/job/" + signed, "book-found": "/?q=sandpiper", "book-close": "/?q=sandpipr", "book-none": "/?q=zeppelin",
		"job-names": "/job/" + id}, func(p *webtest.Screen, name string) {
		if name == "job-names" {
			p.Wait(`(document.querySelector("#names").open = true)`)
			p.Wait(`(document.querySelector("#forget").open = true)`)
		}
	})
}

// A job that was signed long ago takes nothing measured before it is taken up again; what it is called, and a note, it
// still takes.
func TestASignedJobIsTakenUpAgainFirst(t *testing.T) {
	s := webtest.NewShop(t)
	id := s.NewJob()
	s.Read(id, "800", "8")
	if _, err := s.Book.Append(t.Context(), id, book.AnyVersion, book.Draft{Who: "Ada Reed", Kind: book.KindProofSigned,
		Payload: []byte(`{"name":"Ada Reed","verdict":"pass"}`), At: time.Now().AddDate(-4, 0, 0)}); err != nil {
		t.Fatal(err)
	}
	before := len(s.Kinds(id))
	for _, path := range []string{"/readings", "/readings/correction", "/steps", "/card", "/captures", "/suspects", "/instruments"} {
		w := s.Post("/job/"+id+path, url.Values{"rpm": {"800"}, "shown": {"6"}, "key": {path}})
		webtest.WantCode(t, w, 409)
		webtest.WantIn(t, w.Body.String(), "Take the job up again")
	}
	if n := len(s.Kinds(id)); n != before {
		t.Errorf("%d entries more", n-before)
	}
	webtest.WantCode(t, s.Post("/job/"+id+"/note", url.Values{"text": {"the owner rang"}, "key": {"note"}}), 303)
	webtest.WantIn(t, s.Get("/job/"+id).Body.String(), "Take the job up again")
	webtest.WantCode(t, s.Post("/job/"+id+"/shelf", url.Values{"key": {"up"}, "up": {"1"}}), 303)
	kinds := s.Kinds(id)
	if last := kinds[len(kinds)-1]; last != book.KindJobReopened {
		t.Errorf("last entry %s", last)
	}
	webtest.WantCode(t, s.Read(id, "800", "6"), 303)
	if page := s.Get("/job/" + id).Body.String(); strings.Contains(page, "Take the job up again") {
		t.Error("taken up again, the job still asks for it")
	}
}
