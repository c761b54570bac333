package page

import (
	"bytes"
	"html/template"
	"strings"
	"testing"
)

// rendered carries a template out as a page is.
func rendered(t testing.TB, text string, data any) string {
	tmpl, err := template.New("").Funcs(template.FuncMap{"explain": explain,
		"letters": func() template.HTML { return lettersHere }}).Parse(text)
	if err != nil {
		t.Fatal(err)
	}
	var in, out bytes.Buffer
	if err := tmpl.Execute(&in, data); err != nil {
		t.Fatal(err)
	}
	explained(&out, &in)
	return out.String()
}

// A word of the trade is explained where a page has it first in a text, an abbreviation is written out once, and what
// somebody typed stays text.
func TestWordsOfTheTradeAreExplainedOnce(t *testing.T) {
	lead := `<dfn><a href="/words#lead">trigger lead</a></dfn>`
	btdc := `<dfn><a href="/words#btdc">BTDC</a></dfn> (before top dead centre)`
	for _, c := range []struct{ text, data, want string }{
		{`<h1>trigger lead</h1><p>{{explain .}}</p><p>{{explain .}}</p>`, "Set the trigger lead at 60° BTDC.",
			"<h1>trigger lead</h1><p>Set the " + lead + " at 60° " + btdc + ".</p><p>Set the trigger lead at 60° BTDC.</p>"},
		{`<p>{{explain .}}</p>{{letters}}`, "<script>the trigger lead & 'more'",
			"<p>&lt;script&gt;the " + lead + " &amp; &#39;more&#39;</p>"},
		{`<p title="{{.}}">{{.}}</p>{{explain "vane"}}`, "\x00trigger lead\x00letters\x00",
			"<p title=\"\uFFFDtrigger lead\uFFFDletters\uFFFD\">\uFFFDtrigger lead\uFFFDletters\uFFFD</p>" +
				`<dfn><a href="/words#vane">vane</a></dfn>`},
		{`<p>{{explain .}}</p>`, "A \x00trigger lead\x00 typed.", "<p>A \uFFFD" + lead + "\uFFFD typed.</p>"},
		{`<label>° BTDC</label><p>{{letters}}</p><p>ATDC</p>`, "", "<label>° BTDC</label><p>BTDC: before top dead centre. </p><p>ATDC</p>"},
		{`<label>° BTDC</label><p>{{explain .}}</p><p>{{letters}}</p>`, "8° BTDC",
			"<label>° BTDC</label><p>8° " + btdc + "</p><p></p>"},
	} {
		if got := rendered(t, c.text, c.data); got != c.want {
			t.Errorf("%s\n%s\nwant\n%s", c.text, got, c.want)
		}
	}
}

func BenchmarkExplained(b *testing.B) {
	page := []byte(strings.Repeat(fence+"The trigger lead is the angle at which the active edge arrives. "+fence+"<p>", 300))
	var out bytes.Buffer
	b.SetBytes(int64(len(page)))
	for b.Loop() {
		out.Reset()
		explained(&out, bytes.NewBuffer(page))
	}
}
