package job

import (
	"cmp"
	"net/http"
	"net/url"
	"slices"
	"strconv"
	"strings"

	"phasewright/book"
	"phasewright/jobcard"
	"phasewright/record"
	"phasewright/web/page"
	"phasewright/web/shelf"
)

// bothCards is a card that two people saved from the same one before it.
type bothCards struct {
	Who     string       // saved the other
	Was     book.Version // at which both began
	Fields  []bothField  // changed on both sides; as text, all that differ
	Places  []apart      // lines that differ, where one of the texts cannot be read by field
	TooLong bool         // so many lines that they are not compared
	AsText  bool         // nothing can be chosen: the text is mended by hand
	Merged  bool         // nothing touches: Text is both together
	Text    string

	values  map[string]string // both together, mine where they touch
	clashes []clash
}

// bothField is a field with what each side made of it.
type bothField struct {
	clash
	Label  string
	Chosen string // "mine" or "theirs"; "" where nobody chose yet
	First  bool   // gets the focus
}

// Name is the name of the field's inputs, and MineName that of what was typed before.
func (f bothField) Name() string     { return formPrefix + f.Path }
func (f bothField) MineName() string { return minePrefix + f.Path }

// minePrefix goes before the dotted path of a field that somebody has to choose, with what was typed.
const minePrefix = "mine."

// bringTogether merges two texts of a card that were made from a third.
func bringTogether(was, mine, theirs, who string, asText bool) *bothCards {
	b := &bothCards{Who: who, AsText: asText, Text: mine}
	w, m, t := cardValues(was), cardValues(mine), cardValues(theirs)
	for _, one := range []struct {
		text   string
		values map[string]string
	}{{was, w}, {mine, m}, {theirs, t}} {
		if len(one.values) == 0 && strings.TrimSpace(one.text) != "" {
			b.AsText = true
			places, ok := differingLines(mine, theirs)
			b.Places, b.TooLong = places, !ok
			return b
		}
	}
	b.values, b.clashes = mergeCards(w, m, t)
	remarks := strings.Contains(mine, "#") || strings.Contains(theirs, "#")
	written := allKnown(b.values) && !(asText && remarks) // the form's text holds it all
	if len(b.clashes) == 0 {
		text, ok := mergeLines(was, mine, theirs)
		switch {
		case asText && ok && sameCard(cardValues(text), b.values):
			b.Text, b.Merged = text, true
		case written:
			b.Text, b.Merged = cardText(b.values), true
		}
	}
	switch {
	case b.Merged:
	case written:
		b.AsText = false
		b.ask(b.clashes)
	default:
		b.AsText = true
		b.ask(differing(w, m, t))
	}
	return b
}

// allKnown says whether the form has all fields of a card.
func allKnown(values map[string]string) bool {
	known := 0
	for _, f := range jobcard.Fields() {
		if values[f.Path] != "" {
			known++
		}
	}
	return known == len(values)
}

func (b *bothCards) ask(clashes []clash) {
	for _, c := range clashes {
		b.Fields = append(b.Fields, bothField{clash: c, Label: label.Replace(c.Path)})
	}
	if len(b.Fields) > 0 {
		b.Fields[0].First = true
	}
}

func (b *bothCards) next() *page.Next {
	say := b.Who + " saved this card while you wrote. "
	switch {
	case b.AsText:
		say += "Look at what differs, mend your text, and save it."
	case len(b.Fields) == 1:
		say += "You both changed one field: choose."
	default:
		say += "You both changed " + strconv.Itoa(len(b.Fields)) + " fields: choose for each."
	}
	return &page.Next{Say: say}
}

// unchosen are the fields that the form asked to choose and that nobody chose.
func unchosen(form url.Values) []string {
	var left []string
	for name := range form {
		if path, ok := strings.CutPrefix(name, minePrefix); ok && !form.Has(formPrefix+path) {
			left = append(left, path)
		}
	}
	return left
}

// chooseAgain shows the choices once more, where some were left open.
func (r *Room) chooseAgain(q *page.Request, j *shelf.Job, b cardBody, a asked, left []string) error {
	b.Both = &bothCards{Who: cmp.Or(j.CardBy, "Somebody else"), Was: versionIn(q, "was")}
	was, err := r.cardAt(q.Context(), j.ID, b.Both.Was)
	if err != nil {
		return err
	}
	theirs, err := r.cardAt(q.Context(), j.ID, b.Version)
	if err != nil {
		return err
	}
	w, t := cardValues(was), cardValues(theirs)
	for _, f := range jobcard.Fields() {
		if !q.PostForm.Has(minePrefix + f.Path) {
			continue
		}
		c := clash{f.Path, w[f.Path], q.PostForm.Get(minePrefix + f.Path), t[f.Path]}
		one := bothField{clash: c, Label: label.Replace(f.Path)}
		switch {
		case slices.Contains(left, f.Path):
			one.First = !slices.ContainsFunc(b.Both.Fields, func(f bothField) bool { return f.First })
		case f.Same(q.PostForm.Get(formPrefix+f.Path), c.Theirs):
			one.Chosen = "theirs"
		default:
			one.Chosen = "mine"
		}
		b.Both.Fields = append(b.Both.Fields, one)
		b.Both.clashes = append(b.Both.clashes, c)
		a.values[f.Path] = c.Mine // until somebody chooses, for the other fields to be judged beside it
	}
	_, a.mistakes = record.ParseCard(cardText(a.values))
	return r.showCard(q, j, http.StatusConflict, b, a)
}
