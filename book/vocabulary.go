package book

import (
	"cmp"
	"context"
	"errors"
	"maps"
	"slices"
	"strings"
	"unicode"
	"unicode/utf8"
)

// Lengths, in characters, of the words that search looks into: shorter ones are found by their beginnings alone.
const (
	shortestWord = 3
	longestWord  = 40
)

// vocabulary counts for each word in how many jobs it stands: the table of that name. The table grams leads from three
// neighbouring letters to the words that hold them, for what stands in the middle of a word and for slips.
type vocabulary map[string]int

// wordsOf gives the words of a text that are in the vocabulary.
func wordsOf(t jobText) map[string]bool {
	words := map[string]bool{}
	for _, part := range []string{t.words, t.years, t.card, t.remarks} {
		for w := range strings.FieldsSeq(part) {
			if n := utf8.RuneCountInString(w); n >= shortestWord && n <= longestWord {
				words[w] = true
			}
		}
	}
	return words
}

func (v vocabulary) add(t jobText) {
	for w := range wordsOf(t) {
		v[w]++
	}
}

// save fills the empty tables.
func (v vocabulary) save(ctx context.Context, x executor) error {
	words := slices.Sorted(maps.Keys(v))
	err := inParts(words, func(part []string) error {
		values := make([]any, 0, 2*len(part))
		for _, w := range part {
			values = append(values, w, v[w])
		}
		return x.exec(ctx, `INSERT INTO vocabulary (word, jobs) VALUES `+times(len(part), "(?, ?)"), values...)
	})
	if err != nil {
		return err
	}
	return saveGrams(ctx, x, words)
}

// saveGrams leads from what words have side by side to them.
func saveGrams(ctx context.Context, x executor, words []string) error {
	var pairs [][2]string
	for _, w := range words {
		for _, g := range grams(" " + w + " ") {
			pairs = append(pairs, [2]string{g, w})
		}
	}
	return inParts(pairs, func(part [][2]string) error {
		values := make([]any, 0, 2*len(part))
		for _, p := range part {
			values = append(values, p[0], p[1])
		}
		return x.exec(ctx, `INSERT INTO grams (gram, word) VALUES `+times(len(part), "(?, ?)"), values...)
	})
}

// inParts takes a list in parts of few lengths, so that few statements serve all: each costs a way to the database.
func inParts[T any](all []T, do func(part []T) error) error {
	for _, n := range []int{64, 16, 4, 1} {
		for len(all) >= n {
			if err := do(all[:n]); err != nil {
				return err
			}
			all = all[n:]
		}
	}
	return nil
}

// times writes something down so often, with commas between.
func times(n int, s string) string { return strings.TrimSuffix(strings.Repeat(s+", ", n), ", ") }

func places(n int) string { return times(n, "?") }

// isIn reports whether the tables hold just this.
func (v vocabulary) isIn(ctx context.Context, x executor) (bool, error) {
	type counted struct {
		word string
		n    int
	}
	differ := errors.New("differ")
	all := func(text string, same func(counted) bool) (n int, err error) {
		rows, err := x.rows(ctx, text)
		if err != nil {
			return 0, err
		}
		defer rows.Close()
		for ; rows.Next(); n++ {
			var c counted
			if err := rows.Scan(&c.word, &c.n); err != nil {
				return n, unreadable(err)
			}
			if !same(c) {
				return n, differ
			}
		}
		return n, rows.Err()
	}
	words, err := all(`SELECT word, jobs FROM vocabulary`, func(c counted) bool { return v[c.word] == c.n && c.n > 0 })
	if err != nil || words != len(v) {
		return false, ignore(err, differ)
	}
	left, wanted := map[string]int{}, 0
	for w := range v {
		left[w] = len(grams(" " + w + " "))
		wanted += left[w]
	}
	// No pair stands there twice, so as many that are right as there should be are all of them.
	found, err := all(`SELECT gram || '	' || word, 0 FROM grams`, func(c counted) bool {
		gram, word, _ := strings.Cut(c.word, "\t")
		return v[word] > 0 && strings.Contains(" "+word+" ", gram) && utf8.RuneCountInString(gram) == 3
	})
	return err == nil && found == wanted, ignore(err, differ)
}

func ignore(err, harmless error) error {
	if err == harmless {
		return nil
	}
	return err
}

// moveVocabulary counts the words that a job's text gained and lost.
func moveVocabulary(ctx context.Context, x executor, before, after jobText) error {
	had, has := wordsOf(before), wordsOf(after)
	more, fewer := maps.Clone(has), maps.Clone(had)
	maps.DeleteFunc(more, func(w string, _ bool) bool { return had[w] })
	maps.DeleteFunc(fewer, func(w string, _ bool) bool { return has[w] })
	fresh, err := counted(ctx, x, slices.Sorted(maps.Keys(more)), func(n int) string {
		return `INSERT INTO vocabulary (word, jobs) VALUES ` + times(n, "(?, 1)") +
			` ON CONFLICT (word) DO UPDATE SET jobs = vocabulary.jobs + 1 RETURNING word, jobs = 1`
	})
	if err == nil {
		err = saveGrams(ctx, x, fresh)
	}
	if err != nil {
		return err
	}
	gone, err := counted(ctx, x, slices.Sorted(maps.Keys(fewer)), func(n int) string {
		return `UPDATE vocabulary SET jobs = jobs - 1 WHERE word IN (` + places(n) + `) RETURNING word, jobs < 1`
	})
	for _, w := range gone { // it stands in no job any more
		g := grams(" " + w + " ")
		err = cmp.Or(err, x.exec(ctx, `DELETE FROM vocabulary WHERE word = ?`, w))
		err = cmp.Or(err, x.exec(ctx, `DELETE FROM grams WHERE gram IN (`+places(len(g))+`) AND word = ?`,
			append(anys(g), w)...))
	}
	return err
}

// counted runs a statement that gives words and says of each whether it is one to be told.
func counted(ctx context.Context, x executor, words []string, text func(n int) string) (told []string, err error) {
	err = inParts(words, func(part []string) error {
		rows, err := x.rows(ctx, text(len(part)), anys(part)...)
		if err != nil {
			return err
		}
		_, err = collect(rows, func(row scanner) (w string, err error) {
			var tell bool
			if err = row.Scan(&w, &tell); tell {
				told = append(told, w)
			}
			return w, err
		})
		return err
	})
	return told, err
}

// grams gives every three neighbouring characters of s, each once, in the order of s.
func grams(s string) []string {
	var all []string
	r := []rune(s)
	for i := range max(0, len(r)-2) {
		if g := string(r[i : i+3]); !slices.Contains(all, g) {
			all = append(all, g)
		}
	}
	return all
}

// Bounds on the words that one typed word may stand for, the most used first.
const (
	mostWithin = 300
	mostClose  = 60
)

// within gives words that hold w in their middle or at their end, and in how many jobs each of them stands, added up.
func within(ctx context.Context, x executor, w run) (words []string, jobs int, err error) {
	g := grams(w.text)
	if !w.spaced || len(g) == 0 {
		return nil, 0, nil
	}
	rows, err := x.rows(ctx, `SELECT word, jobs FROM (SELECT word FROM grams WHERE gram IN (`+places(len(g))+`)
		GROUP BY word HAVING count(*) = ?) AS alike JOIN vocabulary USING (word) WHERE instr(word, ?) > 1
		ORDER BY jobs DESC, word LIMIT ?`, append(anys(g), len(g), w.text, mostWithin)...)
	if err != nil {
		return nil, 0, err
	}
	words, err = collect(rows, func(row scanner) (word string, err error) {
		var n int
		err = row.Scan(&word, &n)
		jobs += n
		return word, err
	})
	return words, jobs, err
}

// beginMany reports whether words that begin with w stand in so many jobs, with those more, that leafing through the
// book may fill a page. What is too short for the vocabulary may.
func beginMany(ctx context.Context, x executor, w run, more int) (bool, error) {
	const many, asked = 1000, 500
	if !w.spaced || utf8.RuneCountInString(w.text) < shortestWord {
		return true, nil
	}
	var n int
	err := x.row(ctx, `SELECT coalesce(sum(jobs), 0) FROM (SELECT jobs FROM vocabulary
		WHERE word >= ? AND word < ? LIMIT ?) AS few`, w.text, w.text+"\U0010ffff", asked).Scan(&n)
	return n+more >= many, err
}

// slips is how many slips of the hand a word may have: none in a short one or a number, for then it is another.
func slips(w run) int {
	n := utf8.RuneCountInString(w.text)
	switch {
	case !w.spaced || n < 4 || n > longestWord || strings.ContainsFunc(w.text, unicode.IsNumber):
		return 0
	case n < 7:
		return 1
	}
	return 2
}

// near gives the words that w may be a slip of, the closest first.
func near(ctx context.Context, x executor, w run) ([]string, error) {
	most := slips(w)
	if most == 0 {
		return nil, nil
	}
	g, n := grams(" "+w.text+" "), utf8.RuneCountInString(w.text)
	// Two letters changed about are in four of the word's grams, any other slip in three at most: one of two slips may
	// be of the first kind.
	rows, err := x.rows(ctx, `SELECT word, jobs FROM (SELECT word FROM grams WHERE gram IN (`+places(len(g))+`)
		AND length(word) BETWEEN ? AND ? GROUP BY word HAVING count(*) >= ?) AS alike
		JOIN vocabulary USING (word)`,
		append(anys(g), n-most, n+most, max(1, len(g)-3*most-1))...)
	if err != nil {
		return nil, err
	}
	type candidate struct {
		word       string
		jobs, away int
	}
	all, err := collect(rows, func(row scanner) (c candidate, err error) {
		err = row.Scan(&c.word, &c.jobs)
		c.away = distance(w.text, c.word, most)
		return c, err
	})
	if err != nil {
		return nil, err
	}
	all = slices.DeleteFunc(all, func(c candidate) bool { return c.away > most })
	slices.SortFunc(all, func(a, b candidate) int {
		return cmp.Or(a.away-b.away, b.jobs-a.jobs, strings.Compare(a.word, b.word))
	})
	var words []string
	for _, c := range all[:min(len(all), mostClose)] {
		words = append(words, c.word)
	}
	return words, nil
}

// distance counts the slips between two words: a letter left out, put in, changed, or two neighbours changed about
// (optimal string alignment). Beyond most it may say any number above most.
func distance(a, b string, most int) int {
	x, y := []rune(a), []rune(b)
	if d := len(x) - len(y); d > most || -d > most {
		return most + 1
	}
	last, row, next := make([]int, len(y)+1), make([]int, len(y)+1), make([]int, len(y)+1)
	for j := range row {
		row[j] = j
	}
	for i := 1; i <= len(x); i++ {
		next[0] = i
		least := i
		for j := 1; j <= len(y); j++ {
			change := 1
			if x[i-1] == y[j-1] {
				change = 0
			}
			d := min(row[j]+1, next[j-1]+1, row[j-1]+change)
			if i > 1 && j > 1 && x[i-1] == y[j-2] && x[i-2] == y[j-1] {
				d = min(d, last[j-2]+1)
			}
			next[j] = d
			least = min(least, d)
		}
		if least > most {
			return least
		}
		last, row, next = row, next, last
	}
	return row[len(y)]
}

func anys(s []string) []any {
	all := make([]any, len(s))
	for i := range s {
		all[i] = s[i]
	}
	return all
}
