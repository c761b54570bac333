package report

import (
	"bytes"
	"encoding/base64"
	"encoding/json"
	"encoding/xml"
	"fmt"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"testing"
	"unicode/utf8"
)

// archive is a PDF as qpdf reads it: objects by number, streams decoded.
type archive struct {
	t       *testing.T
	name    string
	raw     []byte
	objects map[string]any // value, or {"dict", "data"} of a stream
	trailer map[string]any
	seen    map[string]bool // structure elements reached from the root
}

func openArchive(t *testing.T, name string, data []byte) *archive {
	t.Helper()
	file := filepath.Join(t.TempDir(), "paper.pdf")
	if err := os.WriteFile(file, data, 0o644); err != nil {
		t.Fatal(err)
	}
	text := run(t, "qpdf", "--json=2", "--json-stream-data=inline", "--decode-level=generalized", "--json-key=qpdf", file)
	var parts struct {
		QPDF []json.RawMessage `json:"qpdf"`
	}
	if err := json.Unmarshal([]byte(text), &parts); err != nil || len(parts.QPDF) != 2 {
		t.Fatalf("qpdf gives %d parts, %v", len(parts.QPDF), err)
	}
	a := &archive{t: t, name: name, raw: data, objects: map[string]any{}, seen: map[string]bool{}}
	var all map[string]map[string]any
	if err := json.Unmarshal(parts.QPDF[1], &all); err != nil {
		t.Fatal(err)
	}
	for key, o := range all {
		number := strings.TrimPrefix(key, "obj:")
		switch {
		case key == "trailer":
			a.trailer = o["value"].(map[string]any)
		case o["stream"] != nil:
			a.objects[number] = o["stream"]
		default:
			a.objects[number] = o["value"]
		}
	}
	return a
}

func (a *archive) bad(format string, args ...any) {
	a.t.Helper()
	a.t.Errorf(a.name+": "+format, args...)
}

// get follows a reference.
func (a *archive) get(v any) any {
	if s, ok := v.(string); ok && strings.HasSuffix(s, " 0 R") {
		return a.objects[s]
	}
	return v
}

func (a *archive) dict(v any) map[string]any {
	d, _ := a.get(v).(map[string]any)
	if inner, ok := d["dict"].(map[string]any); ok {
		return inner
	}
	return d
}

func (a *archive) list(v any) []any { l, _ := a.get(v).([]any); return l }

func (a *archive) data(v any) []byte {
	d, _ := a.get(v).(map[string]any)
	s, _ := d["data"].(string)
	b, err := base64.StdEncoding.DecodeString(s)
	if err != nil {
		a.bad("stream: %v", err)
	}
	return b
}

func words(v any) string {
	s, _ := v.(string)
	return strings.TrimPrefix(strings.TrimPrefix(s, "u:"), "b:")
}

// archival checks what ISO 19005-3 (PDF/A-3, level A) asks of a file and this test can see. The clauses are from
// memory; veraPDF, which knows them all, was not at hand.
func archival(t *testing.T, name string, data []byte) {
	t.Helper()
	a := openArchive(t, name, data)
	root := a.dict(a.trailer["/Root"])
	a.file()
	a.forbidden()
	a.metadata(root)
	a.colours(root)
	a.attachments(root)
	fonts := a.fonts()
	elements := a.structure(root)
	a.pages(root, fonts, elements)
	a.outline(root)
}

// file: 6.1.2 header, 6.1.3 trailer, 6.1.13 limits.
func (a *archive) file() {
	if head := "%PDF-1.7\n%"; !bytes.HasPrefix(a.raw, []byte(head)) || slices.Min(a.raw[len(head):len(head)+4]) < 128 || a.raw[len(head)+4] != '\n' {
		a.bad("6.1.2: header %q", a.raw[:min(20, len(a.raw))])
	}
	if !bytes.HasSuffix(a.raw, []byte("%%EOF\n")) || bytes.Count(a.raw, []byte("%%EOF")) != 1 {
		a.bad("6.1.3: something stands behind the end")
	}
	if id := a.list(a.trailer["/ID"]); len(id) != 2 || id[0] != id[1] || len(words(id[0])) < 16 {
		a.bad("6.1.3: identifier %v", id)
	}
	if a.trailer["/Encrypt"] != nil {
		a.bad("6.1.3: encrypted")
	}
	if len(a.objects) > 8388607 {
		a.bad("6.1.13: %d objects", len(a.objects))
	}
}

// forbidden: 6.1.7.2 no LZW, 6.2.5 no graphics state of our own, 6.2.10 no transparency, 6.3 no annotations, 6.5 no actions, no scripts, 6.4
// no forms, 6.2.8 images neither interpolated nor with alternates.
func (a *archive) forbidden() {
	never := []string{"/AA", "/OpenAction", "/JS", "/JavaScript", "/Annots", "/AcroForm", "/SMask", "/ExtGState", "/Interpolate", "/FFilter",
		"/FDecodeParms", "/OCProperties", "/Requirements", "/NeedsRendering", "/PresSteps", "/Alternates", "/OPI", "/PS"}
	var walk func(v any, depth int)
	walk = func(v any, depth int) {
		switch x := v.(type) {
		case map[string]any:
			for k, inner := range x {
				if slices.Contains(never, k) {
					a.bad("holds %s", k)
				}
				if x["/Subtype"] == "/Image" { // 6.2.8: whole in itself, in the colours of the output intent or grey
					if k == "/Filter" && inner != "/DCTDecode" || k == "/ColorSpace" && inner != "/DeviceRGB" && inner != "/DeviceGray" {
						a.bad("6.2.8: image %v", x)
					}
				} else if k == "/Filter" && inner != "/FlateDecode" {
					a.bad("6.1.7.2: filter %v", inner)
				}
				if len(k) > 128 {
					a.bad("6.1.13: name %q", k)
				}
				if k != "data" {
					walk(inner, depth+1)
				}
			}
		case []any:
			for _, inner := range x {
				walk(inner, depth+1)
			}
		case string:
			if strings.HasPrefix(x, "u:") && 2*len([]rune(x)) > 32767 {
				a.bad("6.1.13: a string of %d letters", len(x))
			}
		}
	}
	for _, o := range a.objects {
		walk(o, 0)
	}
}

// metadata: 6.6.2 to 6.6.4, and that readers and archives are told the same.
func (a *archive) metadata(root map[string]any) {
	var x struct {
		Part, Conformance string
		Title, Creator    string
		Created           string
	}
	text := a.data(root["/Metadata"])
	if d := a.dict(root["/Metadata"]); d["/Type"] != "/Metadata" || d["/Subtype"] != "/XML" || d["/Filter"] != nil {
		a.bad("6.6.2: metadata stream %v", d)
	}
	if !bytes.HasPrefix(text, []byte("<?xpacket begin=\"\ufeff\" id=\"W5M0MpCehiHzreSzNTczkc9d\"?>")) || !utf8.Valid(text) {
		a.bad("6.6.2: no packet: %.60s", text)
	}
	dec := xml.NewDecoder(bytes.NewReader(text))
	var path []string
	for {
		tok, err := dec.Token()
		if tok == nil {
			if err != nil && err.Error() != "EOF" {
				a.bad("6.6.2: %v", err)
			}
			break
		}
		switch e := tok.(type) {
		case xml.StartElement:
			path = append(path, e.Name.Space+" "+e.Name.Local)
		case xml.EndElement:
			path = path[:len(path)-1]
		case xml.CharData:
			at := strings.Join(path, "/")
			for _, w := range []struct {
				in  string
				out *string
			}{{"http://www.aiim.org/pdfa/ns/id/ part", &x.Part}, {"http://www.aiim.org/pdfa/ns/id/ conformance", &x.Conformance},
				{"dc/elements/1.1/ title", &x.Title}, {"dc/elements/1.1/ creator", &x.Creator}, {"xap/1.0/ CreateDate", &x.Created}} {
				if strings.Contains(at, w.in) {
					*w.out += strings.Trim(string(e), "\n")
				}
			}
		}
	}
	if x.Part != "3" || x.Conformance != "A" {
		a.bad("6.6.4: part %q, level %q", x.Part, x.Conformance)
	}
	info := a.dict(a.trailer["/Info"])
	date := strings.NewReplacer("-", "", ":", "", "T", "").Replace(x.Created)
	if words(info["/Title"]) != x.Title || words(info["/Author"]) != x.Creator || words(info["/CreationDate"]) != "D:"+date {
		a.bad("readers are told %v, archives %+v", info, x)
	}
	if x.Title == "" || words(root["/Lang"]) != "en-GB" {
		a.bad("6.7.2, 6.7.4: title %q, language %v", x.Title, root["/Lang"])
	}
	view := a.dict(root["/ViewerPreferences"])
	if view["/DisplayDocTitle"] != true || view["/PrintScaling"] != "/None" {
		a.bad("shown and printed as %v", view)
	}
}

// colours: 6.2.3 output intent with a profile of as many colours as the pages use.
func (a *archive) colours(root map[string]any) {
	list := a.list(root["/OutputIntents"])
	if len(list) != 1 {
		a.bad("6.2.3: %d output intents", len(list))
		return
	}
	o := a.dict(list[0])
	profile := a.data(o["/DestOutputProfile"])
	if o["/S"] != "/GTS_PDFA1" || words(o["/OutputConditionIdentifier"]) == "" || a.dict(o["/DestOutputProfile"])["/N"] != 3.0 {
		a.bad("6.2.3: intent %v", o)
	}
	if len(profile) < 132 || string(profile[36:40]) != "acsp" || string(profile[12:20]) != "mntrRGB " || profile[8] > 4 {
		a.bad("6.2.3: no profile of a display: %q", profile[:min(40, len(profile))])
	}
}

// attachments: 6.8.
func (a *archive) attachments(root map[string]any) {
	names := a.list(a.dict(a.dict(root["/Names"])["/EmbeddedFiles"])["/Names"])
	all := a.list(root["/AF"])
	if len(names) != 2*len(all) {
		a.bad("6.8: %d names, %d associated", len(names)/2, len(all))
	}
	for i := 1; i < len(names); i += 2 {
		spec := a.dict(names[i])
		if !slices.Contains(all, names[i]) {
			a.bad("6.8: %v is not associated", spec)
		}
		stream := a.dict(spec["/EF"])["/F"]
		file := a.dict(stream)
		size, _ := a.dict(file["/Params"])["/Size"].(float64)
		if spec["/Type"] != "/Filespec" || words(spec["/F"]) == "" || spec["/F"] != spec["/UF"] || spec["/F"] != names[i-1] ||
			!slices.Contains([]any{"/Data", "/Source"}, spec["/AFRelationship"]) || int(size) != len(a.data(stream)) ||
			!slices.Contains([]any{"/application/json", "/application/zip", "/application/yaml"}, file["/Subtype"]) || file["/Type"] != "/EmbeddedFile" {
			a.bad("6.8: attachment %v, %v", spec, file)
		}
	}
}

// fonts: 6.2.11.4 embedded, 6.2.11.3.2 glyph numbers, 6.2.11.5 widths, 6.2.11.7 letters. It gives the number of glyphs of each.
func (a *archive) fonts() map[string]int {
	out := map[string]int{}
	for number, o := range a.objects {
		f := a.dict(o)
		if f["/Type"] != "/Font" || f["/Subtype"] == "/CIDFontType2" {
			continue
		}
		if f["/Subtype"] != "/Type0" || f["/Encoding"] != "/Identity-H" {
			a.bad("6.2.11: font %v", f)
			continue
		}
		child := a.dict(a.list(f["/DescendantFonts"])[0])
		descriptor := a.dict(child["/FontDescriptor"])
		if child["/CIDToGIDMap"] != "/Identity" || child["/BaseFont"] != f["/BaseFont"] || descriptor["/FontName"] != f["/BaseFont"] {
			a.bad("6.2.11.3.2: %v, %v", child, descriptor)
		}
		if !regexp.MustCompile(`^/[A-Z]{6}\+`).MatchString(fmt.Sprint(f["/BaseFont"])) {
			a.bad("a subset called %v", f["/BaseFont"])
		}
		program := a.data(descriptor["/FontFile2"])
		widths := fontWidths(program)
		said := a.list(a.list(child["/W"])[1])
		if len(said) > len(widths) || len(said) < 2 {
			a.bad("6.2.11.5: %d widths for %d glyphs", len(said), len(widths))
		}
		for i, w := range said {
			if v := w.(float64); v < widths[i]-1 || v > widths[i]+1 {
				a.bad("6.2.11.5: glyph %d of %v is %g wide, said to be %g", i, f["/BaseFont"], widths[i], v)
			}
		}
		maps := regexp.MustCompile(`(?m)^<([0-9A-F]{4})> <((?:[0-9A-F]{4})+)>$`).FindAllSubmatch(a.data(f["/ToUnicode"]), -1)[1:] // behind the range of codes
		if len(maps) != len(said)-1 {
			a.bad("6.2.11.7.2: letters of %d glyphs of %d", len(maps), len(said)-1)
		}
		for _, m := range maps {
			first, _ := strconv.ParseUint(string(m[2][:4]), 16, 16)
			if first == 0 || first == 0xfeff || first == 0xfffe || first >= 0xe000 && first < 0xf900 {
				a.bad("6.2.11.7.2, 6.2.11.7.3: glyph %s stands for %s", m[1], m[2])
			}
		}
		out[number] = len(said)
	}
	if len(out) == 0 {
		a.bad("no fonts")
	}
	return out
}

// fontWidths reads the widths in thousandths out of a TrueType file (OpenType 1.9: hhea, hmtx, head).
func fontWidths(program []byte) []float64 {
	u16 := func(b []byte, at int) int { return int(b[at])<<8 | int(b[at+1]) }
	tables := map[string][]byte{}
	for i := range u16(program, 4) {
		rec := program[12+16*i:]
		at, n := u16(rec, 8)<<16|u16(rec, 10), u16(rec, 12)<<16|u16(rec, 14)
		tables[string(rec[:4])] = program[at : at+n]
	}
	var out []float64
	for i := range u16(tables["hhea"], 34) {
		out = append(out, float64(u16(tables["hmtx"], 4*i))*1000/float64(u16(tables["head"], 18)))
	}
	return out
}

// kidsOf says what may stand in what, of the types that we use (ISO 32000-1, 14.8.4).
var kidsOf = map[string][]string{
	"/Document": {"/H1", "/Sect", "/P", "/L", "/Table", "/Figure"}, "/Sect": {"/H2", "/P", "/L", "/Table", "/Figure"},
	"/Table": {"/TR"}, "/TR": {"/TH", "/TD"}, "/L": {"/LI"}, "/LI": {"/Lbl", "/LBody"}, "/P": {"/Figure"},
	"/H1": nil, "/H2": nil, "/TH": nil, "/TD": {"/Figure"}, "/Lbl": nil, "/LBody": nil, "/Figure": nil,
}

// structure: 6.7.2 to 6.7.5. It gives for each element its contents as "page MCID".
func (a *archive) structure(root map[string]any) map[string][]string {
	if a.dict(root["/MarkInfo"])["/Marked"] != true {
		a.bad("6.7.2.2: not marked")
	}
	contents := map[string][]string{}
	tree := a.dict(root["/StructTreeRoot"])
	titles := 0
	var walk func(ref, parent any, role string)
	walk = func(ref, parent any, above string) {
		e := a.dict(ref)
		role, _ := e["/S"].(string)
		if e["/P"] != parent || a.seen[ref.(string)] {
			a.bad("%s under %v says it is under %v", role, parent, e["/P"])
		}
		a.seen[ref.(string)] = true
		if above != "" && !slices.Contains(kidsOf[above], role) {
			a.bad("6.7.3.4: a %s in a %s", role, above)
		}
		kinds := map[string]int{}
		for _, kid := range a.list(e["/K"]) {
			switch k := kid.(type) {
			case float64:
				contents[ref.(string)] = append(contents[ref.(string)], fmt.Sprintf("%v %v", e["/Pg"], k))
			case map[string]any:
				contents[ref.(string)] = append(contents[ref.(string)], fmt.Sprintf("%v %v", k["/Pg"], k["/MCID"]))
			default:
				walk(kid, ref, role)
				kind, _ := a.dict(kid)["/S"].(string)
				kinds[kind]++
			}
		}
		switch {
		case role == "/H1":
			titles++
		case role == "/Figure" && strings.TrimSpace(words(e["/Alt"])) == "":
			a.bad("6.7.3.6: a picture without words")
		case role == "/LI" && (kinds["/Lbl"] != 1 || kinds["/LBody"] > 1):
			a.bad("an item of %v", kinds)
		case role == "/Table":
			cells := -1
			for _, row := range a.list(e["/K"]) {
				if n := len(a.list(a.dict(row)["/K"])); cells >= 0 && n != cells {
					a.bad("rows of %d and %d cells", cells, n)
				} else {
					cells = n
				}
			}
		}
	}
	for _, kid := range a.list(tree["/K"]) {
		walk(kid, root["/StructTreeRoot"], "")
	}
	if titles > 1 {
		a.bad("%d titles", titles)
	}
	for number, o := range a.objects {
		if d := a.dict(o); d["/Type"] == "/StructElem" && !a.seen[number] {
			a.bad("%v is in no tree", d)
		}
	}
	return contents
}

// pages: 6.2.2 colours, 6.2.11.8 no missing glyphs, 6.7.2.2 all is marked, and every mark leads to its element and back.
func (a *archive) pages(root map[string]any, fonts map[string]int, elements map[string][]string) {
	nums := a.list(a.dict(a.dict(root["/StructTreeRoot"])["/ParentTree"])["/Nums"])
	var numbers []string
	for _, kid := range a.list(a.dict(root["/Pages"])["/Kids"]) {
		numbers = append(numbers, kid.(string))
	}
	named := map[string]bool{}
	for i, number := range numbers {
		page := a.dict(number)
		for _, v := range a.list(page["/MediaBox"])[2:] {
			if size := v.(float64); size < 3 || size > 14400 {
				a.bad("6.1.13: a page of %g", size)
			}
		}
		key, _ := page["/StructParents"].(float64)
		if int(key) != i || 2*i+1 >= len(nums) || page["/Tabs"] != "/S" {
			a.bad("page %d is tagged as %v", i+1, page)
			continue
		}
		parents := a.list(nums[2*i+1])
		ids := a.content(page, fonts)
		if len(ids) != len(parents) {
			a.bad("page %d: %d marked contents, %d parents", i+1, len(ids), len(parents))
		}
		for id := range min(len(ids), len(parents)) {
			e, _ := parents[id].(string)
			place := fmt.Sprintf("%s %d", number, id)
			if !slices.Contains(elements[e], place) || a.dict(e)["/S"] != "/"+ids[id] {
				a.bad("page %d: content %d is a %s, its element %v has %v", i+1, id, ids[id], a.dict(e)["/S"], elements[e])
			}
			named[place] = true
		}
	}
	for e, list := range elements {
		for _, place := range list {
			if !named[place] {
				a.bad("%s says it has the content %s", e, place)
			}
		}
	}
}

var operator = regexp.MustCompile(`^[A-Za-z'"*]+[01]?$`)

// content reads what a page draws, and gives the roles of its marked contents by number.
func (a *archive) content(page map[string]any, fonts map[string]int) []string {
	var roles []string
	var marks, nested int
	glyphs := 0 // of the font that is set
	var line []string
	byName := a.dict(a.dict(page["/Resources"])["/Font"])
	text := strings.NewReplacer("[", " [ ", "]", " ] ", "<<", " << ", ">>", " >> ", "<", " <", ">", "> ").Replace(string(a.data(page["/Contents"])))
	for _, word := range strings.Fields(text) {
		if !operator.MatchString(word) {
			line = append(line, word)
			continue
		}
		switch word {
		case "BDC", "BMC":
			if marks++; marks > 1 {
				a.bad("marked content in marked content")
			}
			role := strings.TrimPrefix(line[0], "/")
			if word == "BDC" {
				if at := slices.Index(line, "/MCID"); at < 0 || line[at+1] != strconv.Itoa(len(roles)) {
					a.bad("the mark %v is not number %d", line, len(roles))
				}
				roles = append(roles, role)
			} else if role != "Artifact" {
				a.bad("a mark %s without number", role)
			}
		case "EMC":
			if marks--; marks < 0 {
				a.bad("a mark ends that did not begin")
			}
		case "q":
			if nested++; nested > 28 || marks > 0 {
				a.bad("6.1.13: q at level %d, in %d marks", nested, marks)
			}
		case "Q":
			nested--
		case "S", "s", "f", "F", "f*", "B", "B*", "b", "b*", "TJ", "Tj", "sh", "Do", "'", `"`:
			if marks != 1 {
				a.bad("6.7.2.2: %s outside of marked content", word)
			}
			if word == "TJ" {
				for _, w := range line {
					code := strings.Trim(w, "<>")
					if w == code || len(code)%4 != 0 {
						continue
					}
					for i := 0; i < len(code); i += 4 {
						if n, err := strconv.ParseUint(code[i:i+4], 16, 16); err != nil || n == 0 || int(n) >= glyphs {
							a.bad("6.2.11.8: glyph %s of %d", code[i:i+4], glyphs)
						}
					}
				}
			}
		case "Tf":
			ref, _ := byName[line[0]].(string)
			if glyphs = fonts[ref]; glyphs == 0 {
				a.bad("no font %s", line[0])
			}
			if size, err := strconv.ParseFloat(line[1], 64); err != nil || size <= 0 {
				a.bad("letters of size %s", line[1])
			}
		case "k", "K", "cs", "CS", "sc", "SC", "scn", "SCN", "g", "G", "gs", "ri", "d0", "d1", "BI", "MP", "DP", "BX", "EX":
			a.bad("6.2.2, 6.2.4: %s", word)
		case "cm", "m", "l", "c", "h", "re", "n", "W", "w", "J", "j", "d", "rg", "RG", "BT", "ET", "Tm", "Ts", "Tr":
		default:
			a.bad("unknown operator %s", word)
		}
		line = line[:0]
	}
	if marks != 0 || nested != 0 {
		a.bad("%d marks and %d states are left open", marks, nested)
	}
	return roles
}

// outline: bookmarks lead to pages, in a chain that is closed.
func (a *archive) outline(root map[string]any) {
	top := a.dict(root["/Outlines"])
	if top == nil {
		if len(a.list(a.dict(root["/Pages"])["/Kids"])) > 1 {
			a.bad("no bookmarks")
		}
		return
	}
	pages := a.list(a.dict(root["/Pages"])["/Kids"])
	n := 0
	var walk func(parent any, d map[string]any)
	walk = func(parent any, d map[string]any) {
		var before any
		for at := d["/First"]; at != nil; {
			item := a.dict(at)
			n++
			to := a.list(item["/Dest"])
			if item["/Parent"] != parent || item["/Prev"] != before || words(item["/Title"]) == "" || len(to) != 5 || !slices.Contains(pages, to[0]) {
				a.bad("bookmark %v", item)
			}
			walk(at, item)
			before = at
			at = item["/Next"]
		}
		if d["/Last"] != before {
			a.bad("the last bookmark is %v, not %v", d["/Last"], before)
		}
	}
	walk(root["/Outlines"], top)
	if count, _ := top["/Count"].(float64); int(count) != n {
		a.bad("%d bookmarks, said to be %v", n, count)
	}
}
