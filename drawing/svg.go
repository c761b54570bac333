package drawing

import (
	"fmt"
	"hash/fnv"
	"html"
	"io"
	"strconv"
	"strings"
)

// SVGUse says where an SVG goes.
type SVGUse uint8

const (
	// InPage is for a page that has the style sheet (see CSS): no width or height, no
	// styles, only classes and presentation attributes, so a strict content policy holds.
	InPage SVGUse = iota
	// AsFile is a file of its own: true size in mm, and the style sheet inside.
	AsFile
)

// SVG returns the drawing as SVG text.
func (d *Drawing) SVG(use SVGUse) string {
	var b strings.Builder
	d.WriteSVG(&b, use) // a Builder does not fail
	return b.String()
}

// WriteSVG writes the drawing as SVG.
func (d *Drawing) WriteSVG(w io.Writer, use SVGUse) error {
	s := &svgWriter{prefix: d.Prefix, clips: map[string]bool{}}
	s.head(d, use)
	s.group(&d.root)
	s.flush()
	s.b.WriteString("</svg>\n")
	_, err := io.WriteString(w, s.b.String())
	return err
}

type svgWriter struct {
	b      strings.Builder
	prefix string
	clips  map[string]bool // written so far
	about  string          // ends the ids of title and description where there is no prefix
	run    []*shape        // neighbours of one style, written as one group
}

func (s *svgWriter) head(d *Drawing, use SVGUse) {
	title, _ := Clean(d.Title)
	desc, _ := Clean(d.Desc)
	s.b.WriteString(`<svg xmlns="http://www.w3.org/2000/svg"`)
	if use == AsFile {
		fmt.Fprintf(&s.b, ` width="%smm" height="%smm"`, num(d.Width), num(d.Height))
	}
	fmt.Fprintf(&s.b, ` viewBox="0 0 %s %s" class="drawing" role="img"`, num(d.Width), num(d.Height))
	if s.prefix == "" {
		s.about = "-" + short(title+desc)
	}
	labels := ""
	for _, part := range []struct{ id, text string }{{"title", title}, {"desc", desc}} {
		if part.text != "" {
			labels += " " + s.id(part.id+s.about)
		}
	}
	if labels != "" {
		fmt.Fprintf(&s.b, ` aria-labelledby="%s"`, html.EscapeString(labels[1:]))
	}
	s.b.WriteString(` font-family="B612, Go, 'DejaVu Sans', sans-serif" fill="none">` + "\n")
	if title != "" {
		fmt.Fprintf(&s.b, "<title id=\"%s\">%s</title>\n", html.EscapeString(s.id("title"+s.about)),
			html.EscapeString(title))
	}
	if desc != "" {
		fmt.Fprintf(&s.b, "<desc id=\"%s\">%s</desc>\n", html.EscapeString(s.id("desc"+s.about)),
			html.EscapeString(desc))
	}
	if use == AsFile {
		fmt.Fprintf(&s.b, "<style>%s</style>\n", Tokens+CSS)
	}
}

func (s *svgWriter) id(id string) string {
	if s.prefix == "" {
		return id
	}
	return s.prefix + "-" + id
}

// short returns a name made from what it names.
func short(text string) string {
	h := fnv.New32a()
	io.WriteString(h, text) // a hash does not fail
	return strconv.FormatUint(uint64(h.Sum32()), 36)
}

func (s *svgWriter) group(g *group) {
	for _, part := range g.parts {
		switch p := part.(type) {
		case *shape:
			if len(s.run) > 0 && s.run[0].style != p.style {
				s.flush()
			}
			s.run = append(s.run, p)
		case *words:
			s.flush()
			s.words(p)
		case *picture:
			s.flush()
			s.picture(p)
		case *group:
			if p.Group == (Group{}) { // it only says what its parts are
				s.group(p)
				continue
			}
			s.flush()
			s.open(p)
			s.group(p)
			s.flush()
			s.b.WriteString("</g>\n")
		}
	}
}

func (s *svgWriter) open(g *group) {
	clip := ""
	if g.Clip != nil {
		data := pathData(g.Clip)
		// the same id only for the same path, so drawings on one page do not disturb each other
		clip = s.id("clip-" + short(data))
		if !s.clips[clip] {
			s.clips[clip] = true
			fmt.Fprintf(&s.b, "<clipPath id=\"%s\"><path d=\"%s\"/></clipPath>\n", html.EscapeString(clip), data)
		}
	}
	s.b.WriteString("<g")
	if g.ID != "" {
		s.attr("id", s.id(g.ID))
	}
	if g.Class != "" {
		s.attr("class", g.Class)
	}
	if g.Label != "" {
		label, _ := Clean(g.Label)
		s.attr("aria-label", label)
	}
	move := ""
	if g.X != 0 || g.Y != 0 {
		move = "translate(" + num(g.X) + " " + num(g.Y) + ")"
	}
	if g.Turn != 0 {
		move += "rotate(" + num(g.Turn) + ")"
	}
	if move != "" {
		s.attr("transform", move)
	}
	if clip != "" {
		s.attr("clip-path", "url(#"+clip+")")
	}
	s.b.WriteString(">\n")
}

func (s *svgWriter) attr(name, value string) {
	s.b.WriteString(" " + name + `="` + html.EscapeString(value) + `"`)
}

// flush writes the shapes gathered; several of one style share a group.
func (s *svgWriter) flush() {
	switch len(s.run) {
	case 0:
		return
	case 1:
		s.b.WriteString("<path" + styleAttrs(s.run[0].style) + ` d="` + pathData(s.run[0].path) + "\"/>\n")
	default:
		s.b.WriteString("<g" + styleAttrs(s.run[0].style) + ">\n")
		for _, p := range s.run {
			s.b.WriteString(`<path d="` + pathData(p.path) + "\"/>\n")
		}
		s.b.WriteString("</g>\n")
	}
	s.run = s.run[:0]
}

func styleAttrs(st Style) string {
	var b strings.Builder
	class := strings.TrimSpace(paints[st.Stroke].stroke + " " + paints[st.Fill].fill)
	if class != "" {
		b.WriteString(` class="` + class + `"`)
	}
	if st.Fill != None {
		b.WriteString(` fill="` + paints[st.Fill].day + `"`)
	}
	if st.Stroke != None {
		b.WriteString(` stroke="` + paints[st.Stroke].day + `" stroke-width="` + num(st.Width) + `"`)
		if ds := dashes[st.Dash]; len(ds) > 0 {
			b.WriteString(` stroke-dasharray="`)
			for i, v := range ds {
				if i > 0 {
					b.WriteByte(' ')
				}
				b.WriteString(num(v))
			}
			b.WriteString(`"`)
		}
		if st.Cap == RoundCap {
			b.WriteString(` stroke-linecap="round" stroke-linejoin="round"`)
		}
	}
	return b.String()
}

func (s *svgWriter) words(w *words) {
	class := strings.TrimSpace(paints[w.Paint].fill + " " + w.Class)
	s.b.WriteString("<text")
	s.attr("class", class)
	x, y := w.at.X, w.at.Y+w.dy
	if w.Turn != 0 {
		s.attr("transform", "translate("+num(w.at.X)+" "+num(w.at.Y)+")rotate("+num(w.Turn)+")")
		x, y = 0, w.dy
	}
	s.attr("x", num(x))
	s.attr("y", num(y))
	s.attr("font-size", num(w.Size))
	if w.Weight == Bold {
		s.attr("font-weight", "700")
	}
	switch w.Anchor {
	case Middle:
		s.attr("text-anchor", "middle")
	case End:
		s.attr("text-anchor", "end")
	}
	s.attr("fill", paints[w.Paint].day)
	s.b.WriteString(">" + html.EscapeString(w.text) + "</text>\n")
}

func pathData(p *Path) string {
	var b strings.Builder
	for _, g := range p.segs {
		switch g.kind {
		case segMove:
			b.WriteString("M" + pair(g.to))
		case segLine:
			b.WriteString("L" + pair(g.to))
		case segCurve:
			b.WriteString("C" + pair(g.a) + " " + pair(g.b) + " " + pair(g.to))
		case segArc: // in pieces of at most a third turn, so that large-arc is never in doubt
			n := 1
			for g.sweep/float64(n) > 120 || g.sweep/float64(n) < -120 {
				n++
			}
			for i := 1; i <= n; i++ {
				way := "1"
				if g.sweep < 0 {
					way = "0"
				}
				end := Polar(g.a, g.r, g.start+g.sweep*float64(i)/float64(n))
				b.WriteString("A" + num(g.r) + " " + num(g.r) + " 0 0 " + way + " " + pair(end))
			}
		case segClose:
			b.WriteString("Z")
		}
	}
	return b.String()
}

func pair(p Point) string { return num(p.X) + " " + num(p.Y) }

// num prints v with at most three decimals (a micrometre) and no trailing zeros.
func num(v float64) string {
	s := strconv.FormatFloat(v, 'f', 3, 64)
	s = strings.TrimRight(strings.TrimRight(s, "0"), ".")
	if s == "-0" || s == "" {
		return "0"
	}
	return s
}
