package book

import (
	"encoding/json"
	"maps"
	"regexp"
	"slices"
	"strings"
	"time"
	"unicode"
	"unicode/utf8"
)

// jobText is what search looks through: a row of the table job_text, in plain form.
type jobText struct {
	shelf   string // shelfActive or shelfArchived
	words   string // name, owner, engine, shop, bay
	years   string // in which something was recorded, earliest first
	card    string // the values of the job card as last saved
	remarks string // notes, faults, findings
}

const (
	maxCard    = 8 << 10  // bytes of a card that search looks at
	maxRemark  = 4 << 10  // bytes of one event that search looks at
	maxRemarks = 32 << 10 // bytes of one job; of more than that the latest
)

// textAfter gives the text of a job after event e, from the text before.
func textAfter(before jobText, j *Job, e Event) jobText {
	if j.IsRoom() || j.ID == ShopList {
		return jobText{shelf: shelfRooms} // nobody looks for an engine and wants practice, or the shop's own lists
	}
	t := before
	t.shelf = shelfWord(j.Archived)
	t.years = withYear(t.years, e.At)
	switch e.Kind {
	case KindJobCreated, KindJobDescribed:
		t.words = plain(strings.Join([]string{j.Name, j.Owner, j.Engine, j.Shop, j.Bay}, "\n"))
	case KindCardSaved:
		t.card = plain(clip(cardWords(field(e.Payload, "yaml")), maxCard))
	case KindStepDone: // always the same
	default:
		remark := plain(clip(strings.Join(phrases(e.Payload), "\n"), maxRemark))
		t.remarks = strings.TrimSpace(t.remarks + " " + remark)
		if over := len(t.remarks) - maxRemarks; over > 0 {
			_, t.remarks, _ = strings.Cut(t.remarks[over:], " ")
		}
	}
	return t
}

// withYear adds the year of a time to a list of years.
func withYear(years string, at time.Time) string {
	all := strings.Fields(years)
	i, known := slices.BinarySearch(all, at.UTC().Format("2006"))
	if known {
		return years
	}
	return strings.Join(slices.Insert(all, i, at.UTC().Format("2006")), " ")
}

// cardKey is a key of a job card, the same in every card, and cardRemark what a form or a blank card says about one.
var (
	cardKey    = regexp.MustCompile(`(?m)(^|[\s{,])[a-z_0-9]+:(\s|$)`)
	cardRemark = regexp.MustCompile(`(?m)(^|\s)#.*$`)
)

// cardWords are the values of a card: its keys and remarks are the same in every other.
func cardWords(yaml string) string {
	return cardKey.ReplaceAllString(cardRemark.ReplaceAllString(yaml, ""), "$1 ")
}

// phrases collects the strings of a payload, in the order of its keys. Ids, hashes and media types are not words.
func phrases(payload []byte) []string {
	var root any
	if json.Unmarshal(payload, &root) != nil {
		return nil
	}
	var all []string
	var walk func(any)
	walk = func(v any) {
		switch v := v.(type) {
		case string:
			if v != "" {
				all = append(all, v)
			}
		case []any:
			for _, one := range v {
				walk(one)
			}
		case map[string]any:
			for _, key := range slices.Sorted(maps.Keys(v)) {
				switch key {
				case "id", "sha256", "media_type":
				default:
					walk(v[key])
				}
			}
		}
	}
	walk(root)
	return all
}

// A job's shelf is a word of its own in the index. It begins with a character for private use, which no typed word has.
const (
	shelfActive   = "\ue000active"
	shelfArchived = "\ue000archived"
	shelfRooms    = "\ue000rooms"
)

func shelfWord(archived bool) string {
	if archived {
		return shelfArchived
	}
	return shelfActive
}

// run is a piece of folded text: a word, or characters of a script that is written without spaces.
type run struct {
	text   string
	spaced bool
}

// runs takes text apart into words of lower-case letters and digits without accents, so that a search finds it whatever
// the accents, the case and the width of the letters.
func runs(s string) []run {
	var all []run
	var b strings.Builder
	spaced := true
	var before rune // the letter before, folded
	end := func() {
		if b.Len() > 0 {
			all = append(all, run{b.String(), spaced})
			b.Reset()
		}
	}
	for _, r := range s {
		r = unicode.ToLower(r)
		if r >= 0xff01 && r <= 0xff5e { // full-width forms of ASCII
			r = unicode.ToLower(r - 0xfee0)
		}
		switch {
		case accent(r) || apostrophe(r) && before != 0:
			continue
		case !wordRune(r):
			end()
			before = 0
			continue
		}
		folded := plainLetter(r)
		if folded == "e" && strings.ContainsRune("aou", before) {
			before = 'e'
			continue // ae, oe and ue are how ä, ö, ø and ü are typed where they are not on the keys
		}
		before, _ = utf8.DecodeLastRuneInString(folded)
		if unspaced(r) == spaced {
			end()
			spaced = !spaced
		}
		b.WriteString(folded)
	}
	end()
	return all
}

func wordRune(r rune) bool { return unicode.IsLetter(r) || unicode.IsNumber(r) || unicode.IsMark(r) }

// unspaced tells the scripts that put no spaces between words.
func unspaced(r rune) bool {
	return r >= 0xe00 && unicode.In(r, unicode.Han, unicode.Hiragana, unicode.Katakana, unicode.Thai, unicode.Lao,
		unicode.Khmer, unicode.Myanmar) ||
		r == 'ー' || r == '々'
}

// pairs gives every two neighbouring characters of a run without spaces, and at last the last character alone.
func pairs(text string) []string {
	var all []string
	for i := range text {
		_, n := utf8.DecodeRuneInString(text[i:])
		_, m := utf8.DecodeRuneInString(text[i+n:])
		all = append(all, text[i:i+n+m])
	}
	return all
}

// plain gives the words of a text as the index keeps them, with single spaces between.
func plain(s string) string {
	var words []string
	for _, r := range runs(s) {
		if r.spaced {
			words = append(words, r.text)
		} else {
			words = append(words, pairs(r.text)...)
		}
	}
	return strings.Join(words, " ")
}

const maxWords = 12 // of a search; more are ignored

// asked takes apart what a person typed: words, and pairs of characters where no spaces are written.
func asked(text string) []run {
	var words []run
	for _, r := range runs(clip(text, 400)) {
		if r.spaced {
			words = append(words, r)
			continue
		}
		p := pairs(r.text)
		for _, two := range p[:max(1, len(p)-1)] { // the last alone only where it is all there is
			words = append(words, run{two, false})
		}
	}
	return words[:min(len(words), maxWords)]
}
