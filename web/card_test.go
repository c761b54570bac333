package web

import (
	"net/url"
	"path/filepath"
	"reflect"
	"strings"
	"testing"
	"time"

	"pgregory.net/rapid"

	"phasewright/jobcard"
	"phasewright/record"
)

// Every card that ships goes through the form and comes out as the same card.
func TestFormGivesTheSameCard(t *testing.T) {
	all, err := filepath.Glob("../examples/*.yaml")
	if err != nil || len(all) == 0 {
		t.Fatal("no examples", err)
	}
	for _, path := range all {
		text := example(t, strings.TrimSuffix(filepath.Base(path), ".yaml"))
		before, mistakes := record.ParseCard(text)
		if mistakes != nil {
			t.Fatalf("%s: %v", path, mistakes)
		}
		form := url.Values{}
		for _, section := range cardForm(cardValues(text), nil) {
			for _, f := range section.Fields {
				form.Set(f.Name, f.Value)
			}
		}
		again := cardText(formValues(form))
		after, mistakes := record.ParseCard(again)
		if mistakes != nil {
			t.Errorf("%s: through the form: %v\n%s", path, mistakes, again)
			continue
		}
		if !reflect.DeepEqual(before, after) {
			t.Errorf("%s: the form changed the card:\n%s", path, again)
		}
	}
}

// Whatever is typed into a text field comes back as it was typed, blanks at the ends apart.
func TestTypedTextComesBack(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		typed := rapid.OneOf(rapid.String(), rapid.SampledFrom([]string{"yes", "null", "~", "1e3", "0x10", "a: b", "- a", "# no", "a # b", "'", `"`, "{a}", "[a", "a]", "*a", "&a", "!a", "%a", "@a", "`a`", "|", ">", "? a", "true", "2026-01-02", "a\tb", "é", "👍"})).Draw(t, "typed")
		if strings.ContainsFunc(typed, func(r rune) bool {
			return r < 0x20 || r == 0x7f || r == 0xfffd || r >= 0x80 && r < 0xa0 || r == 0xfeff || r == 0x2028 || r == 0x2029
		}) || strings.HasPrefix(strings.TrimSpace(typed), "[") {
			t.Skip("a text field takes one line, and the parser refuses control characters")
		}
		typed = strings.TrimSpace(typed)
		text := cardText(map[string]string{"job.name": typed, "job.shop": "x"})
		if got := cardValues(text)["job.name"]; got != typed {
			t.Fatalf("typed %q, wrote %q, got %q", typed, text, got)
		}
	})
}

func TestFormShowsTheParsersWords(t *testing.T) {
	s := newShop(t)
	job := s.job()
	form := url.Values{"version": {"2"}}
	for path, v := range cardValues(example(t, "sandpiper")) {
		form.Set(formPrefix+path, v)
	}
	form.Set("card.engine.bore", "98 kg")
	form.Set("card.engine.redline", "")
	w := s.post("/job/"+job+"/card", form)
	wantCode(t, w, 422)
	_, mistakes := record.ParseCard(cardText(formValues(form)))
	if len(mistakes) != 2 {
		t.Fatalf("%d mistakes: %v", len(mistakes), mistakes)
	}
	body := w.Body.String()
	for _, e := range mistakes {
		wantIn(t, htmlText(body), e.Problem+"; "+e.Remedy)
	}
	wantIn(t, body, `value="98 kg"`)
	wantIn(t, body, `id="card.engine.bore" name="card.engine.bore" value="98 kg"`)
	if n := len(s.kinds(job)); n != 2 {
		t.Errorf("a card with mistakes was saved unasked: %d events", n)
	}
	form.Set("as", "unfinished")
	wantCode(t, s.post("/job/"+job+"/card", form), 303)
	wantIn(t, s.get("/job/"+job).Body.String(), "2 mistakes")
}

// htmlText undoes the escapes that the templates put in.
func htmlText(s string) string {
	return strings.NewReplacer("&#34;", `"`, "&#39;", "'", "&lt;", "<", "&gt;", ">", "&#43;", "+", "&amp;", "&").Replace(s)
}

func TestTwoWritersOfACardNeverOverwrite(t *testing.T) {
	s := newShop(t)
	job := s.job()
	card := func(version, bore string) url.Values {
		f := url.Values{"version": {version}, "yaml": {strings.Replace(example(t, "sandpiper"), "bore: 94 mm", "bore: "+bore, 1)}}
		return f
	}
	s.read(job, "800", "9") // version 3: no reason to refuse a card seen at version 2
	wantCode(t, s.post("/job/"+job+"/card", card("2", "99 mm")), 303)
	w := s.post("/job/"+job+"/card", card("2", "97 mm"))
	wantCode(t, w, 409)
	wantIn(t, w.Body.String(), "bore: 97 mm")
	wantIn(t, w.Body.String(), "host screen saved this card while you wrote")
	wantIn(t, w.Body.String(), `name="version" value="4"`)
	wantIn(t, s.get("/job/"+job+"/card/text").Body.String(), "bore: 99 mm")
	wantCode(t, s.post("/job/"+job+"/card", card("4", "97 mm")), 303)
	wantIn(t, s.get("/job/"+job+"/card/text").Body.String(), "bore: 97 mm")
}

func TestEveryFieldOfTheParserIsOnTheForm(t *testing.T) {
	s := newShop(t)
	body := s.get("/job/" + s.job() + "/card").Body.String()
	for _, f := range jobcard.Fields() {
		wantIn(t, body, `name="card.`+f.Path+`"`)
	}
}

func TestNewJobFromEveryBeginning(t *testing.T) {
	s := newShop(t, func(c *Config) { c.Templates = []Template{{"pump", "Mill pump", "invented", example(t, "mill-pump")}} })
	w := s.post("/new", url.Values{"name": {"Blank"}, "from": {"blank"}, "key": {"k1"}})
	wantCode(t, w, 303)
	if again := s.post("/new", url.Values{"name": {"Blank"}, "from": {"blank"}, "key": {"k1"}}); again.Header().Get("Location") != w.Header().Get("Location") {
		t.Error("a form sent twice started two jobs")
	}
	w = s.post("/new", url.Values{"name": {"Second pump"}, "from": {"template-pump"}, "key": {"k2"}})
	wantCode(t, w, 303)
	pump := strings.TrimPrefix(w.Header().Get("Location"), "/job/")
	wantIn(t, s.get("/job/"+pump+"/card").Body.String(), `value="Second pump"`)
	w = s.post("/new", url.Values{"name": {"Third pump"}, "from": {pump}})
	wantCode(t, w, 303)
	wantIn(t, s.get(w.Header().Get("Location")+"/card").Body.String(), `value="Third pump"`)
	wantCode(t, s.post("/new", url.Values{"name": {""}, "from": {"blank"}}), 422)
	w = s.post("/new", url.Values{"name": {"X"}, "from": {"paste"}, "yaml": {"engine: {bore: 98 kg}"}})
	wantCode(t, w, 422)
	wantIn(t, w.Body.String(), "engine: {bore: 98 kg}")
	wantCode(t, s.post("/new", url.Values{"name": {"X"}, "from": {"no-such-job"}}), 404)
}

// The form offers only words that the parser takes.
func TestWordsOfferedAreWordsTaken(t *testing.T) {
	base := cardValues(example(t, "sandpiper"))
	if len(enums()) < 10 {
		t.Fatalf("only %d fields offer words", len(enums()))
	}
	for path, words := range enums() {
		for _, w := range words {
			values := map[string]string{}
			for k, v := range base {
				values[k] = v
			}
			values[path] = w
			_, mistakes := record.ParseCard(cardText(values))
			for _, m := range mistakes {
				if m.Path == path && strings.Contains(m.Problem, "not known") {
					t.Errorf("%s: %q is offered and refused: %v", path, w, m)
				}
			}
		}
	}
}

// What is typed into the form goes through the bounds of the card's parser: the YAML library alone takes half a minute
// for this text.
func TestCardValuesAreBounded(t *testing.T) {
	start := time.Now()
	if v := cardValues(strings.Repeat("&a ", 40000)); len(v) > 0 {
		t.Errorf("values of a text that no card is: %.100v", v)
	}
	if took := time.Since(start); took > time.Second {
		t.Errorf("taken apart in %v", took)
	}
}
