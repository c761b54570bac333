package job

import (
	"cmp"
	"encoding/json"
	"regexp"
	"slices"
	"strconv"
	"strings"

	"github.com/goccy/go-yaml/ast"

	"phasewright/jobcard"
	"phasewright/quantity"
	"phasewright/web/page"
)

// cardSection is one fold of the card's form: fields that may all stay empty.
type cardSection struct {
	Name    string
	Fields  []cardField
	Wrong   int  // fields with mistakes
	Given   int  // fields filled in
	Assumed int  // empty fields in whose place a value stands
	Lacks   int  // empty fields that the others of the section need
	Open    bool // shown unfolded
}

// Said is what stands in the fold's line: "3 given, 9 assumed".
func (s cardSection) Said() string {
	said := func(n int, what string) string {
		if n == 0 {
			return ""
		}
		return strconv.Itoa(n) + " " + what
	}
	return cmp.Or(page.Joined(", ", said(s.Given, "given"), said(s.Assumed, "assumed"), said(s.Lacks, "needed")),
		"nothing given")
}

// cardField is one field of the card with what was typed. It holds text: reading it is the parser's business.
type cardField struct {
	jobcard.Entry
	Path, Label, Hint, Hold, Wrong, Need string

	As      string   // how it is asked for: "tap", "choice", "order", "figure" or "words"
	Options []string // words that the parser takes; nil where it takes more
	Units   []string // to choose from beside the figure
	Within  bool     // takes a ± too
	Mode    string   // inputmode: "numeric", "decimal" or "text"
	First   bool     // gets the focus as the page opens
}

// Tall says whether the field takes the whole width among figures in two columns.
func (f cardField) Tall() bool { return f.Within || f.As != "figure" || f.Path == "engine.cylinders" }

// Name, UnitName and LimitName are the names of the field's inputs.
func (f cardField) Name() string      { return formPrefix + f.Path }
func (f cardField) UnitName() string  { return unitPrefix + f.Path }
func (f cardField) LimitName() string { return limitPrefix + f.Path }

// Choices are the units to choose from with the one that stands there already, whatever it is.
func (f cardField) Choices() []string { return offered(f.Units, f.Unit) }

// What goes before the dotted path in the names of inputs: of the figure or words, its unit, and its ±.
const (
	formPrefix  = "card."
	unitPrefix  = "unit."
	limitPrefix = "within."
)

// cardPanels are the form: the fields that every card needs, and the others by section.
type cardPanels struct {
	Needed   []cardField
	Sections []cardSection
	Left     int    // needed fields that are empty
	Next     string // the name of the first of them
}

// asked says how the form stands: what was typed, beside which units, and what is wrong with it.
type asked struct {
	values   map[string]string // texts of the fields, by path
	units    map[string]string // as chosen beside them; of an empty map the fields' own
	mistakes jobcard.Errors
	shop     quantity.LengthUnit // what lengths are measured in where the values do not say
	leave    []clash             // fields that are asked for elsewhere
}

// cardForm lays the parser's own table of fields out as a form. Fields that take a tap come first among the needed
// ones, so that the keyboard of a phone comes up once.
func cardForm(a asked) cardPanels {
	wrong := map[string]string{}
	for _, e := range a.mistakes {
		if wrong[e.Path] == "" {
			wrong[e.Path] = page.Joined("; ", e.Problem, e.Remedy)
		}
	}
	if u, err := quantity.ParseLengthUnit(a.values["job.units"]); err == nil {
		a.shop = u
	}
	var p cardPanels
	for _, f := range jobcard.Fields() {
		if slices.ContainsFunc(a.leave, func(c clash) bool { return c.Path == f.Path }) {
			continue
		}
		if f.Needed() && a.values[f.Path] == "" && wrong[f.Path] != "" { // what to write stands beside it already
			wrong[f.Path] = "is missing: " + f.Demand
		}
		one := a.field(f, wrong[f.Path])
		if f.Needed() || f.Path == "job.units" {
			p.Needed = append(p.Needed, one)
		} else {
			p.add(f, one)
		}
	}
	slices.SortStableFunc(p.Needed, func(a, b cardField) int { return cmp.Compare(a.turn(), b.turn()) })
	for _, f := range p.Needed {
		if f.Need != "" && f.Figure == "" {
			if p.Left++; p.Next == "" {
				p.Next = f.Name()
			}
		}
	}
	p.open(a.mistakes)
	return p
}

// turn is the place of a needed field: the unit that figures are in before them, and cylinders before their order.
func (f cardField) turn() int {
	if f.Path == "engine.cylinders" {
		return 1
	}
	if f.Path == "job.units" {
		return 0
	}
	return 2 + slices.Index([]string{"order", "tap", "figure", "words"}, f.As)
}

// field is one field of the form.
func (a *asked) field(f jobcard.Field, wrong string) cardField {
	name, rest, nested := strings.Cut(f.Path, ".")
	if f.Needed() || !nested || alone[name] != "" {
		rest = f.Path
	}
	one := cardField{Entry: f.Entry(a.values[f.Path], a.shop), Path: f.Path, Label: label.Replace(rest), Hint: f.Doc,
		Hold: holdOf(f), Wrong: wrong, Need: f.Demand, As: "words", Units: f.Units, Within: f.Kind == jobcard.Measured,
		Mode: "text"}
	if u := a.units[f.Path]; u != "" && one.Figure == strings.TrimSpace(a.values[f.Path]) {
		one.Unit = u // nothing that was typed says another
	}
	if f.Path == "job.units" {
		one.Label, one.Hint = "the shop measures in", "Tapes and lengths are printed in it. Left open: millimetres."
	}
	switch f.Kind {
	case jobcard.Word:
		one.As, one.Options = "choice", offered(f.Words, one.Figure)
		if len(one.Options) == 2 && (f.Needed() || f.Path == "job.units") {
			one.As = "tap"
		}
	case jobcard.Order:
		one.As = "order"
	case jobcard.Count:
		one.As, one.Mode = "figure", "numeric"
	case jobcard.Ratio:
		one.As, one.Mode = "figure", "decimal"
	case jobcard.Measure, jobcard.Measured:
		one.As = "figure"
		if one.Mode = "decimal"; one.Unit == quantity.Inch.Short() { // fractions
			one.Mode = "text"
		}
	}
	return one
}

// alone are the sections of one field that share a fold, by their first.
var alone = map[string]string{"light": "light, proof and tolerance", "proof": "light, proof and tolerance",
	"tolerance": "light, proof and tolerance"}

// add puts a field into the fold of its section.
func (p *cardPanels) add(f jobcard.Field, one cardField) {
	name, _, _ := strings.Cut(f.Path, ".")
	name = cmp.Or(alone[name], name)
	i := slices.IndexFunc(p.Sections, func(s cardSection) bool { return s.Name == name })
	if i < 0 {
		i = len(p.Sections)
		p.Sections = append(p.Sections, cardSection{Name: name})
	}
	s := &p.Sections[i]
	switch {
	case one.Figure != "":
		s.Given++
	case one.Need != "":
		s.Lacks++
	case f.Default != "":
		s.Assumed++
	}
	if one.Wrong != "" {
		s.Wrong++
	}
	s.Fields = append(s.Fields, one)
}

// open unfolds what holds mistakes, and gives the first one the focus.
func (p *cardPanels) open(mistakes jobcard.Errors) {
	first := true
	mark := func(f *cardField) {
		f.First = first && f.Wrong != ""
		first = first && f.Wrong == ""
	}
	for i := range p.Needed {
		mark(&p.Needed[i])
	}
	for i := range p.Sections {
		s := &p.Sections[i]
		if s.Given == 0 { // such as a coil that is left out as a whole
			s.Lacks = 0
		}
		s.Open = s.Wrong > 0
		for k := range s.Fields {
			mark(&s.Fields[k])
		}
	}
}

var label = strings.NewReplacer(".", ", ", "_", " ")

// holdOf is what stands in an empty field.
func holdOf(f jobcard.Field) string {
	switch {
	case f.Path == "engine.firing_order":
		return "such as 1-5-3-6-2-4"
	case f.Open:
		return "not given"
	case f.Default != "":
		return f.Default + " assumed"
	case f.Demand != "" && f.Kind == jobcard.Word:
		return "choose"
	case f.Demand != "":
		return "such as " + f.Entry(strings.Trim(f.Example, `"`), 0).Figure
	}
	return "may stay empty"
}

// offered are words to choose from, with the one that stands there already, whatever it is.
func offered(words []string, value string) []string {
	if len(words) == 0 || value == "" || slices.Contains(words, value) {
		return words
	}
	return append([]string{value}, words...)
}

// homeless gives the mistakes that no field of the form can show.
func homeless(mistakes jobcard.Errors) []string {
	known := map[string]bool{}
	for _, f := range jobcard.Fields() {
		known[f.Path] = true
	}
	var out []string
	for _, e := range mistakes {
		if !known[e.Path] {
			out = append(out, e.Error())
		}
	}
	return out
}

// cardValues takes a card's text apart into the text of each field, by dotted path. Of a text that is refused as a
// whole, such as one that is no YAML, it gives nothing.
func cardValues(text string) map[string]string {
	values := map[string]string{}
	if root := jobcard.Tree([]byte(text)); root != nil {
		collect(values, "", root)
	}
	return values
}

func collect(values map[string]string, path string, n ast.Node) {
	switch n := n.(type) {
	case *ast.MappingNode:
		for _, pair := range n.Values {
			collect(values, path, pair)
		}
	case *ast.MappingValueNode:
		at := n.Key.GetToken().Value
		if path != "" {
			at = path + "." + at
		}
		collect(values, at, n.Value)
	case *ast.SequenceNode:
		values[path] = flow(n)
	case *ast.StringNode:
		values[path] = n.Value
	case *ast.LiteralNode:
		values[path] = strings.TrimSpace(n.Value.Value)
	case *ast.NullNode, nil:
	default:
		if t := n.GetToken(); t != nil {
			values[path] = t.Value
		}
	}
}

// flow writes a list on one line, in square brackets.
func flow(n ast.Node) string {
	switch n := n.(type) {
	case *ast.SequenceNode:
		parts := make([]string, len(n.Values))
		for i, v := range n.Values {
			parts[i] = flow(v)
		}
		return "[" + strings.Join(parts, ", ") + "]"
	case *ast.StringNode:
		return n.Value
	}
	if t := n.GetToken(); t != nil {
		return t.Value
	}
	return ""
}

// bare matches text that YAML takes as it stands, with nothing in it that YAML reads another way.
var bare = regexp.MustCompile(`^[\pL\pN][\pL\pN ./()±²³·µ°−+–-]*$`)

// cardText writes a card from the fields of a form, in the order of the parser's table. Empty fields are left out. What
// is typed stays as it is typed: the parser judges it.
func cardText(values map[string]string) string {
	var b strings.Builder
	var open []string // keys of the mappings that are open, outermost first
	for _, f := range jobcard.Fields() {
		v := strings.TrimSpace(values[f.Path])
		if v == "" {
			continue
		}
		keys := strings.Split(f.Path, ".")
		parents := keys[:len(keys)-1]
		same := 0
		for same < len(parents) && same < len(open) && parents[same] == open[same] {
			same++
		}
		for i := same; i < len(parents); i++ {
			b.WriteString(strings.Repeat("  ", i) + parents[i] + ":\n")
		}
		open = parents
		b.WriteString(strings.Repeat("  ", len(parents)) + keys[len(keys)-1] + ": " + scalar(v) + "\n")
	}
	return b.String()
}

// scalar quotes text where YAML would not read it as it stands. Lists in square brackets stay lists.
func scalar(v string) string {
	if strings.HasPrefix(v, "[") && balanced(v) ||
		bare.MatchString(v) && v == strings.TrimSpace(v) && !strings.EqualFold(v, "null") {
		return v
	}
	quoted, err := json.Marshal(v) // a JSON string is a YAML double-quoted one
	if err != nil {
		return `""`
	}
	return string(quoted)
}

// balanced says whether v is one list of brackets with nothing in it that could end it early.
func balanced(v string) bool {
	depth := 0
	for i, r := range v {
		switch r {
		case '[':
			depth++
		case ']':
			depth--
			if depth == 0 && i != len(v)-1 {
				return false
			}
		case '{', '}', '#', '\n', '\r', '"', '\'', '&', '*', '!', '|', '>', '%', '@', '`', ':':
			return false
		}
		if depth < 1 && i != len(v)-1 {
			return false
		}
	}
	return depth == 0
}
