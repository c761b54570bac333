package page

import (
	"cmp"
	"crypto/rand"
	"encoding/json"
	"net/http"
	"strconv"
	"strings"
	"unicode"
	"unicode/utf8"
)

// Field is what was typed into a field of the form that was sent, without the blanks around it.
func (q *Request) Field(name string) string { return strings.TrimSpace(q.PostForm.Get(name)) }

// Key is the key of the form that was sent, a new one where it has none.
func (q *Request) Key() string { return cmp.Or(q.Field("key"), NewKey()) }

// NewKey makes a key for a form: the book records a form sent twice only once.
func NewKey() string { return rand.Text() }

// Reply is what script is answered with instead of a page.
type Reply struct {
	Say    string            `json:"say,omitempty"`    // what is the matter
	Do     string            `json:"do,omitempty"`     // what to do
	Fields map[string]string `json:"fields,omitempty"` // what is the matter with which field
	Go     string            `json:"go,omitempty"`     // the page to show
}

// WantsJSON says whether a script asks.
func (q *Request) WantsJSON() bool { return q.Header.Get("Accept") == "application/json" }

// JSON answers a script.
func (q *Request) JSON(status int, a Reply) {
	q.W.Header().Set("Content-Type", "application/json")
	q.W.WriteHeader(status)
	json.NewEncoder(q.W).Encode(a) // a client that has gone is no news
}

// Done answers a change that was recorded: the page to show next.
func (q *Request) Done(to string) error {
	to = ownPath(to)
	if q.WantsJSON() {
		q.JSON(http.StatusOK, Reply{Go: to})
		return nil
	}
	http.Redirect(q.W, q.Request, to, http.StatusSeeOther)
	return nil
}

// ownPath lets only a path of this server through, so that a form cannot send people elsewhere. Control characters have
// no business in a header, and browsers drop some of them: "/", a tab and "/" would be the "//" of another host.
func ownPath(to string) string {
	if !strings.HasPrefix(to, "/") || strings.HasPrefix(to, "//") || strings.Contains(to, `\`) ||
		strings.ContainsFunc(to, unicode.IsControl) || !utf8.ValidString(to) {
		return "/"
	}
	return to
}

// NameLimit is how many characters of a name are kept.
const NameLimit = 120

// CleanName makes one line of at most NameLimit characters out of what was typed.
func CleanName(s string) string {
	s = strings.Map(func(r rune) rune {
		if unicode.IsControl(r) || r == unicode.ReplacementChar || unicode.Is(unicode.Cf, r) {
			return ' '
		}
		return r
	}, strings.ToValidUTF8(s, " "))
	s = strings.Join(strings.Fields(s), " ")
	if runes := []rune(s); len(runes) > NameLimit {
		s = strings.TrimSpace(string(runes[:NameLimit]))
	}
	return s
}

// Number reads what people type for a number: a decimal comma, blanks as thousands mark and a true minus sign are fine;
// hexadecimal, "inf" and exponents are not.
func Number(text string) (float64, bool) {
	text = strings.Map(func(r rune) rune {
		switch r {
		case ' ', '\u2009', '\u202f', '\u00a0':
			return -1
		case '\u2212', '–':
			return '-'
		case ',':
			return '.'
		}
		return r
	}, text)
	if strings.Trim(text, "0123456789.-+") != "" {
		return 0, false
	}
	v, err := strconv.ParseFloat(text, 64)
	return v, err == nil
}
