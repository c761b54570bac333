package book

import (
	"encoding/json"
	"maps"
	"slices"
	"strings"
	"unicode"
)

// jobText is what search looks through: a row of the table job_text, in plain form.
type jobText struct {
	shelf   string // "active" or "archived"
	words   string // name, owner, engine, shop
	remarks string // notes, faults, findings
}

const (
	maxRemark  = 4 << 10  // bytes of one event that search looks at
	maxRemarks = 32 << 10 // bytes of one job; of more than that the latest
)

// textAfter gives the text of a job after event e, from the text before.
func textAfter(before jobText, j *Job, e Event) jobText {
	t := jobText{shelf: shelfWord(j.Archived), words: before.words, remarks: before.remarks}
	switch e.Kind {
	case KindJobCreated, KindJobDescribed:
		t.words = plain(j.Name + "\n" + j.Owner + "\n" + j.Engine + "\n" + j.Shop)
	case KindCardSaved, KindStepDone: // long or always the same
	default:
		remark := plain(clip(strings.Join(phrases(e.Payload), "\n"), maxRemark))
		t.remarks = strings.TrimSpace(t.remarks + " " + remark)
		if over := len(t.remarks) - maxRemarks; over > 0 {
			_, t.remarks, _ = strings.Cut(t.remarks[over:], " ")
		}
	}
	return t
}

func shelfWord(archived bool) string {
	if archived {
		return "archived"
	}
	return "active"
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

// plain reduces text to words of lower-case letters and digits, single spaces between, so that a search finds it whatever the
// accents, the case and the width of the letters. Characters of scripts written without spaces become words of their own. SQLite's tokenizer then
// folds what is left of Latin accents.
func plain(s string) string {
	var b strings.Builder
	gap := false
	for _, r := range s {
		r = unicode.ToLower(r)
		if r >= 0xff01 && r <= 0xff5e { // full-width forms of ASCII
			r = unicode.ToLower(r - 0xfee0)
		}
		switch {
		case r >= 0x300 && r <= 0x36f: // combining accents
			continue
		case !wordRune(r):
			gap = true
			continue
		}
		alone := unspaced(r)
		if (gap || alone) && b.Len() > 0 {
			b.WriteByte(' ')
		}
		if as, ok := plainLetters[r]; ok {
			b.WriteString(as)
		} else {
			b.WriteRune(r)
		}
		gap = alone
	}
	return b.String()
}

func wordRune(r rune) bool { return unicode.IsLetter(r) || unicode.IsNumber(r) || unicode.IsMark(r) }

// unspaced tells the scripts that put no spaces between words.
func unspaced(r rune) bool {
	return r >= 0xe00 && unicode.In(r, unicode.Han, unicode.Hiragana, unicode.Katakana, unicode.Thai, unicode.Lao, unicode.Khmer, unicode.Myanmar) ||
		r == 'ー' || r == '々'
}

// plainLetters are letters that Unicode does not take apart into a base and an accent, and the accented letters outside Latin.
var plainLetters = map[rune]string{
	'ß': "ss", 'æ': "ae", 'œ': "oe", 'ø': "o", 'å': "a", 'ł': "l", 'đ': "d", 'ð': "d", 'þ': "th", 'ı': "i", 'ħ': "h", 'ŋ': "n", 'ſ': "s", 'ŧ': "t",
	'ά': "α", 'έ': "ε", 'ή': "η", 'ί': "ι", 'ό': "ο", 'ύ': "υ", 'ώ': "ω", 'ϊ': "ι", 'ϋ': "υ", 'ΐ': "ι", 'ΰ': "υ", 'ς': "σ",
	'ё': "е", 'й': "и", 'ї': "і", 'ў': "у", 'ѓ': "г", 'ќ': "к",
}

const maxWords = 12 // of a search; more are ignored

// match turns what a person typed into an FTS5 expression, "" when there is no word in it. Every word is quoted, so nothing typed has a
// meaning to FTS5.
func match(text string, shelf Shelf) string {
	var parts []string
	for word := range strings.FieldsFuncSeq(clip(text, 400), func(r rune) bool { return !wordRune(r) }) {
		if p := plain(word); p != "" && len(parts) < maxWords {
			parts = append(parts, `"`+p+`"*`) // several tokens in one pair of quotes stand side by side
		}
	}
	if len(parts) == 0 {
		return ""
	}
	expression := `{words remarks} : (` + strings.Join(parts, " AND ") + `)`
	if shelf != Both {
		expression += ` AND shelf : "` + shelfWord(shelf == Archived) + `"`
	}
	return expression
}
