package jobcard

import (
	"fmt"
	"regexp"
	"slices"
	"strings"

	"phasewright/engine"
	"phasewright/yamltext"
)

// Fields that take words, as people write them: in any case, with a blank, a hyphen or an underscore between two.

// plainWord is a word without what people write differently.
func plainWord(s string) string {
	return strings.Join(strings.FieldsFunc(strings.ToLower(s), func(r rune) bool {
		return strings.ContainsRune(" \t-_–", r)
	}), " ")
}

// said finds the accepted word that a text says; also holds other names of some of them.
func said(text string, accepted []string, also map[string]string) (string, bool) {
	plain := plainWord(text)
	for _, w := range accepted {
		if plainWord(w) == plain {
			return w, true
		}
	}
	w, ok := also[plain]
	return w, ok
}

// wordSchema offers the accepted words, and takes each of them and of their other names as said does.
func wordSchema(accepted []string, also map[string]string) map[string]any {
	words := slices.Clone(accepted)
	for w := range also {
		words = append(words, w)
	}
	slices.Sort(words)
	var forms []string
	for _, w := range words {
		var b strings.Builder
		for _, r := range plainWord(w) {
			upper := strings.ToUpper(string(r))
			switch {
			case r == ' ':
				b.WriteString(`[ \t_–-]+`)
			case upper != string(r):
				b.WriteString("[" + string(r) + upper + "]")
			default:
				b.WriteString(regexp.QuoteMeta(string(r)))
			}
		}
		if form := b.String(); !slices.Contains(forms, form) {
			forms = append(forms, form)
		}
	}
	enum := make([]any, len(accepted))
	for i, w := range accepted {
		enum[i] = w
	}
	const around = `[ \t_–-]*`
	pattern := "^" + around + "(?:" + strings.Join(forms, "|") + ")" + around + "$"
	return map[string]any{"anyOf": []any{map[string]any{"enum": enum},
		map[string]any{"type": "string", "pattern": pattern}}}
}

func choice[T ~string](f Field, at func(*Card) *T, accepted ...T) Field {
	return choiceOf(f, nil, at, accepted...)
}

// choiceOf is a choice some of whose words have other names, written in lower case and with blanks.
func choiceOf[T ~string](f Field, also map[string]string, at func(*Card) *T, accepted ...T) Field {
	var words []string
	for _, a := range accepted {
		words = append(words, string(a))
	}
	f = ofWords(f, words, func(text string) (string, bool) { return said(text, words, also) })
	f.set = func(c *Card, v yamltext.Value) *yamltext.Fault {
		s, ft := scalar(v, oneOf(words))
		if ft != nil {
			return ft
		}
		w, ok := said(s, words, also)
		if !ok {
			remedy := "write " + oneOf(words)
			if n := yamltext.Nearest(plainWord(s), words); n != "" {
				remedy = fmt.Sprintf("did you mean %q? Accepted: %s", n, oneOf(words))
			}
			return yamltext.Wrong(fmt.Sprintf("%q is not known here", s), remedy)
		}
		*at(c) = T(w)
		return nil
	}
	f.schema = func() map[string]any { return wordSchema(words, also) }
	return f
}

func direction(f Field, at func(*Card) *engine.Direction) Field {
	f = ofWords(f, []string{"clockwise", "counterclockwise"}, func(text string) (string, bool) {
		d, err := engine.ParseDirection(text)
		return d.String(), err == nil
	})
	f.set = func(c *Card, v yamltext.Value) *yamltext.Fault {
		s, ft := scalar(v, "clockwise or counterclockwise")
		if ft != nil {
			return ft
		}
		d, err := engine.ParseDirection(s)
		if err != nil {
			return yamltext.Wrong(fmt.Sprintf("%q is not a sense of rotation", s),
				"write clockwise or counterclockwise")
		}
		*at(c) = d
		return nil
	}
	f.schema = func() map[string]any {
		const gap = `[-_. ]*`
		spelt := func(word string) string {
			var b strings.Builder
			for _, r := range word {
				fmt.Fprintf(&b, "[%c%c]%s", r, r-'a'+'A', gap)
			}
			return b.String()
		}
		return map[string]any{"anyOf": []any{map[string]any{"enum": []any{"clockwise", "counterclockwise"}},
			map[string]any{"type": "string", "pattern": "^" + gap + "(?:(?:" + spelt("counter") + "|" + spelt("anti") +
				")?" + spelt("clockwise") + "|" + spelt("cw") + "|" + spelt("ccw") + "|" + spelt("acw") + ")$"}}}
	}
	return f
}

// firingOrder reads a list of cylinder numbers, or the order in one text.
func firingOrder(f Field, at func(*Card) *[]int, most int) Field {
	f.Kind, f.apart = Order, orderApart
	f.together = func(e Entry) string { return plainOrder(e.Figure) }
	f.set = func(c *Card, v yamltext.Value) *yamltext.Fault {
		const remedy = "write the cylinders in the order they fire, such as [1, 5, 3, 6, 2, 4] or 1-5-3-6-2-4"
		text := v.Text
		if v.List {
			parts := make([]string, len(v.Items))
			for i, item := range v.Items {
				if parts[i] = item.Text; item.List || strings.ContainsAny(item.Text, "- ,;/>") {
					return yamltext.Wrong(fmt.Sprintf("%q is not a cylinder number", item.Text), remedy)
				}
			}
			if text = strings.Join(parts, "-"); len(parts) == 1 && len(parts[0]) > 1 {
				return yamltext.Wrong(fmt.Sprintf("%q is not a firing order", parts[0]), remedy)
			}
		}
		if strings.TrimSpace(text) == "" {
			return yamltext.Wrong("is not a list of cylinder numbers", remedy)
		}
		order, err := engine.ParseOrder(strings.TrimSpace(text))
		if err != nil {
			return yamltext.Wrong(err.Error(), remedy)
		}
		for _, n := range order {
			if n > most {
				return yamltext.Wrong(fmt.Sprintf("%d is not a cylinder number", n),
					fmt.Sprintf("write whole numbers from 1 to %d, with hyphens between them", most))
			}
		}
		*at(c) = order
		return nil
	}
	f.schema = func() map[string]any {
		return map[string]any{"anyOf": []any{
			map[string]any{"type": "array", "minItems": 1,
				"items": map[string]any{"type": "integer", "minimum": 1, "maximum": most}},
			map[string]any{"type": "integer", "minimum": 1, "maximum": 987654321},
			map[string]any{"type": "string", "pattern": `^\s*[0-9]+(?:[ \t,;/>→–—-]+[0-9]+)*[ \t,;/>→–—-]*\s*$`}}}
	}
	return f
}

// otherMaterial stands for whatever the list does not have.
const otherMaterial = "other"

// material offers a list. Whatever else is written is kept as it stands and counts as other; it is asked about, since
// it may be a slip of the pen.
func material(f Field, at func(*Card) *string, also map[string]string, listed ...string) Field {
	words := append(slices.Clone(listed), otherMaterial, "unknown")
	plain := text(f, at)
	f = ofWords(f, words, func(text string) (string, bool) { return said(text, words, also) })
	f.set = func(c *Card, v yamltext.Value) *yamltext.Fault {
		if ft := plain.set(c, v); ft != nil {
			return ft
		}
		if w, ok := said(*at(c), words, also); ok {
			*at(c) = w
		}
		return nil
	}
	f.doubt = func(v yamltext.Value, _ usual) (Doubt, bool) {
		first, _, _ := strings.Cut(v.Text, ":")
		if _, ok := said(first, words, also); ok {
			return Doubt{}, false
		}
		d := Doubt{Found: fmt.Sprintf("%q is no material of the list, and counts as other", v.Text),
			Ask: "write " + oneOf(words) + "; what it is may follow, as in other: sintered iron"}
		if near := yamltext.Nearest(plainWord(v.Text), words); near != "" {
			d.Ask = fmt.Sprintf("did you mean %s? Else %s", near, d.Ask)
		}
		return d, true
	}
	f.schema = func() map[string]any {
		enum := make([]any, len(words))
		for i, w := range words {
			enum[i] = w
		}
		return map[string]any{"anyOf": []any{map[string]any{"enum": enum}, plain.schema()}}
	}
	return f
}
