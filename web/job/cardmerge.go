package job

import (
	"maps"
	"slices"
	"strings"

	"phasewright/jobcard"
)

// clash is a field that two people changed, each to something else. Empty texts stand for a field left out.
type clash struct{ Path, Was, Mine, Theirs string }

// mergeCards brings two cards together that were both made from a third, field by field: what one side changed is
// taken from that side. Where both changed a field to texts that do not say the same it is a clash, and the merged card
// keeps mine until somebody chooses. Clashes come in the order of the card, fields that no card has behind it.
func mergeCards(was, mine, theirs map[string]string) (merged map[string]string, clashes []clash) {
	merged = map[string]string{}
	for _, f := range fieldsIn(was, mine, theirs) {
		w, m, t := was[f.Path], mine[f.Path], theirs[f.Path]
		one := m
		switch {
		case f.Same(m, t), f.Same(m, w):
			one = t // what is saved stands as it was written
		case f.Same(t, w):
		default:
			clashes = append(clashes, clash{f.Path, w, m, t})
		}
		if one != "" {
			merged[f.Path] = one
		}
	}
	return merged, clashes
}

// differing are the fields in which two cards differ, as clashes.
func differing(was, mine, theirs map[string]string) []clash {
	var out []clash
	for _, f := range fieldsIn(was, mine, theirs) {
		if m, t := mine[f.Path], theirs[f.Path]; !f.Same(m, t) {
			out = append(out, clash{f.Path, was[f.Path], m, t})
		}
	}
	return out
}

// sameCard says whether two cards say the same in every field.
func sameCard(a, b map[string]string) bool { return len(differing(nil, a, b)) == 0 }

// fieldsIn are the fields that any of the cards has, in the order of the card, unknown ones behind.
func fieldsIn(cards ...map[string]string) []jobcard.Field {
	all := map[string]bool{}
	for _, c := range cards {
		for path := range c {
			all[path] = true
		}
	}
	var out []jobcard.Field
	for _, f := range jobcard.Fields() {
		if all[f.Path] {
			out = append(out, f)
			delete(all, f.Path)
		}
	}
	for _, path := range slices.Sorted(maps.Keys(all)) {
		out = append(out, jobcard.Field{Path: path})
	}
	return out
}

// mostLines bounds the lines that are compared; the longest example has 20, and the work grows as their square.
const mostLines = 800

// mergeLines brings two texts together that were both made from a third, line by line, so that remarks and layout stay.
// It gives false where both changed the same lines, or lines that touch, and for texts too long to compare.
func mergeLines(was, mine, theirs string) (string, bool) {
	w, m, t := lines(was), lines(mine), lines(theirs)
	if max(len(w), len(m), len(t)) > mostLines {
		return "", false
	}
	toMine, toTheirs := matched(w, m), matched(w, t)
	var out []string
	i, j, k := 0, 0, 0
	for next := 0; next <= len(w); next++ {
		var a, b int
		if next < len(w) {
			a, b = toMine[next], toTheirs[next]
			if a < 0 || b < 0 {
				continue
			}
		} else {
			a, b = len(m), len(t)
		}
		switch wasPart, minePart, theirsPart := w[i:next], m[j:a], t[k:b]; {
		case slices.Equal(minePart, wasPart), slices.Equal(minePart, theirsPart):
			out = append(out, theirsPart...)
		case slices.Equal(theirsPart, wasPart):
			out = append(out, minePart...)
		default:
			return "", false
		}
		if next < len(w) {
			out = append(out, w[next])
			i, j, k = next+1, a+1, b+1
		}
	}
	return strings.Join(out, "\n"), true
}

// apart is a place where two texts differ: the lines that each has there.
type apart struct{ Mine, Theirs []string }

// differingLines are the places where two texts differ; false where they are too long to compare.
func differingLines(mine, theirs string) ([]apart, bool) {
	m, t := lines(mine), lines(theirs)
	if max(len(m), len(t)) > mostLines {
		return nil, false
	}
	var out []apart
	at := matched(m, t)
	i, j := 0, 0
	for next := 0; next <= len(m); next++ {
		to := len(t)
		if next < len(m) {
			if to = at[next]; to < 0 {
				continue
			}
		}
		if i < next || j < to {
			out = append(out, apart{m[i:next], t[j:to]})
		}
		i, j = next+1, to+1
	}
	return out, true
}

func lines(text string) []string { return strings.Split(strings.ReplaceAll(text, "\r\n", "\n"), "\n") }

// matched gives for each line of a the line of b that it is, −1 where it is none, by their longest common sequence.
func matched(a, b []string) []int {
	long := make([][]int16, len(a)+1) // mostLines fits
	for i := range long {
		long[i] = make([]int16, len(b)+1)
	}
	for i := len(a) - 1; i >= 0; i-- {
		for j := len(b) - 1; j >= 0; j-- {
			if a[i] == b[j] {
				long[i][j] = long[i+1][j+1] + 1
			} else {
				long[i][j] = max(long[i+1][j], long[i][j+1])
			}
		}
	}
	out := make([]int, len(a))
	for i, j := 0, 0; i < len(a); i++ {
		out[i] = -1
		for j < len(b) && a[i] != b[j] && long[i][j+1] >= long[i+1][j] {
			j++
		}
		if j < len(b) && a[i] == b[j] {
			out[i] = j
			j++
		}
	}
	return out
}
